/*
 * Whole runs of the program: the demo's check, and `inspect` of each real package (folder in
 * ISTHMUS_BOARDS), with processor seconds, wall seconds and peak memory of each; and how fast
 * drawings are parsed. Absolute times depend on the machine: compare lines of one run.
 *
 * The program is build/release/isthmus, or what the environment variable ISTHMUS names.
 */
#include "isthmus/drawing.h"
#include "isthmus/package.h"

#include <dirent.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static double seconds(struct timeval t)
{
    return (double)t.tv_sec + (double)t.tv_usec * 1e-6;
}

static void exec_quietly(const char *const *argv)
{
    int nowhere = open("/dev/null", O_WRONLY);
    if (nowhere < 0 || dup2(nowhere, 1) < 0 || dup2(nowhere, 2) < 0)
        _exit(126);
    execv(argv[0], (char *const *)(uintptr_t)argv);
    _exit(127);
}

/* Runs the program once and prints what the operating system accounted for it. */
static void run(const char *name, const char *const *argv)
{
    double start = now_s();
    pid_t child = fork();
    if (child == 0)
        exec_quietly(argv);
    int status;
    struct rusage used;
    if (child < 0 || wait4(child, &status, 0, &used) < 0) {
        perror(name);
        exit(2);
    }
    printf("%-34s %8.3f s processor %8.3f s wall %8.1f MiB  exit %d\n", name,
           seconds(used.ru_utime) + seconds(used.ru_stime), now_s() - start,
           (double)used.ru_maxrss / 1024, WIFEXITED(status) ? WEXITSTATUS(status) : -1);
    fflush(stdout);
}

/* Parses every drawing of a package again and again for a while. */
static void parse(const char *name, const char *path)
{
    struct arena *arena = arena_new("bench");
    struct diag_list diags = {.arena = arena};
    struct file_table files = {0};
    if (package_read(&path, 1, &package_default_limits, arena, &files, &diags) != PACKAGE_OK)
        return;
    double bytes = 0, start = now_s(), elapsed = 0;
    size_t objects = 0, rounds = 0;
    for (; elapsed < 0.5; elapsed = now_s() - start, rounds++) {
        objects = 0;
        for (size_t i = 0; i < files.count; i++) {
            if (!gerber_looks_like(files.files[i].bytes, files.files[i].size))
                continue;
            struct arena *scratch = arena_new("drawing");
            struct diag_list told = {.arena = scratch};
            struct drawing drawing;
            gerber_read((uint32_t)i + 1, files.files[i].bytes, files.files[i].size, 20000000,
                        scratch, &told, &drawing);
            objects += drawing.object_count;
            bytes += (double)files.files[i].size;
            arena_free(scratch);
        }
    }
    printf("%-34s %8.1f MB/s parsed, %zu objects\n", name, bytes / elapsed * 1e-6, objects);
    file_table_free(&files);
    arena_free(arena);
}

/* The package inside a folder of a real board: its only zip, or the folder itself. */
static void package_path(const char *folder, char *path, size_t size)
{
    snprintf(path, size, "%s", folder);
    DIR *dir = opendir(folder);
    for (struct dirent *entry; dir && (entry = readdir(dir));) {
        size_t length = strlen(entry->d_name);
        if (length > 4 && strcmp(entry->d_name + length - 4, ".zip") == 0)
            snprintf(path, size, "%s/%s", folder, entry->d_name);
    }
    if (dir)
        closedir(dir);
}

static void real_packages(const char *program, const char *boards)
{
    struct dirent **entries;
    int count = scandir(boards, &entries, NULL, alphasort);
    for (int i = 0; i < count; i++) {
        char folder[2048], path[4096];
        snprintf(folder, sizeof folder, "%s/%s", boards, entries[i]->d_name);
        if (entries[i]->d_name[0] != '.' && entries[i]->d_type == DT_DIR) {
            package_path(folder, path, sizeof path);
            parse(entries[i]->d_name, path);
            run(entries[i]->d_name, (const char *const[]){program, "inspect", path, NULL});
        }
        free(entries[i]);
    }
    if (count >= 0)
        free(entries);
}

int main(void)
{
    const char *program = getenv("ISTHMUS"), *boards = getenv("ISTHMUS_BOARDS");
    if (!program)
        program = "build/release/isthmus";
    run("check of the demo board",
        (const char *const[]){program, "check", "fixtures/coldframe/coldframe.zip",
                              "--currents=fixtures/coldframe/currents.csv",
                              "--board=fixtures/coldframe/board.ini", NULL});
    if (boards)
        real_packages(program, boards);
    else
        puts("ISTHMUS_BOARDS is not set: no real packages");
    return 0;
}
