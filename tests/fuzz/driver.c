/*
 * Runs a fuzz target without any fuzzing engine: every seed, every seed cut short, then a fixed
 * number of mutations from a fixed random start, so that each run does the same.
 *
 *     fuzz_x SEED_FOLDER [COUNT [START]]
 *
 * FUZZ_DICT may name a file of words to insert, as libFuzzer reads it. Inputs are handed over in
 * blocks of exactly their size, so that AddressSanitizer sees any byte read beyond.
 * On a crash the number of the input is printed, and the input is written to the file that
 * FUZZ_CRASH names. An input that takes longer than 20 s counts as a hang.
 */
#include <dirent.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);
void __sanitizer_set_death_callback(void (*callback)(void)) __attribute__((weak));

#define INPUT_LIMIT ((size_t)1 << 16)
#define HANG_SECONDS 20

struct blob {
    uint8_t *bytes;
    size_t size;
};
struct blobs {
    struct blob *items;
    size_t count;
};

static const uint8_t *current_bytes;
static size_t current_size;
static unsigned long current_number;

/* ---- what is left when it goes wrong ---- */
static void tell_input(void)
{
    fprintf(stderr, "fuzz: input %lu, %zu bytes\n", current_number, current_size);
    const char *path = getenv("FUZZ_CRASH");
    FILE *file = path ? fopen(path, "wb") : NULL;
    if (!file)
        return;
    fwrite(current_bytes, 1, current_size, file);
    fclose(file);
}

static void on_signal(int signal_number)
{
    fprintf(stderr, "fuzz: %s\n", signal_number == SIGALRM ? "hang" : "crash");
    tell_input();
    _exit(1);
}

/* ---- random numbers: xorshift64*, fixed start ---- */
static uint64_t random_state = 1;

static size_t random_below(size_t limit)
{
    random_state ^= random_state >> 12;
    random_state ^= random_state << 25;
    random_state ^= random_state >> 27;
    return limit ? (size_t)(random_state * UINT64_C(2685821657736338717) >> 33) % limit : 0;
}

/* ---- files ---- */
static void *must(void *memory)
{
    if (!memory) {
        fprintf(stderr, "fuzz: out of memory\n");
        exit(2);
    }
    return memory;
}

static void add(struct blobs *list, const uint8_t *bytes, size_t size)
{
    list->items = must(realloc(list->items, (list->count + 1) * sizeof *list->items));
    struct blob *blob = &list->items[list->count++];
    blob->bytes = must(malloc(size + 1));
    blob->size = size;
    if (size)
        memcpy(blob->bytes, bytes, size);
}

static bool add_file(struct blobs *list, const char *path)
{
    FILE *file = fopen(path, "rb");
    if (!file)
        return false;
    uint8_t *bytes = must(malloc(INPUT_LIMIT));
    size_t size = fread(bytes, 1, INPUT_LIMIT, file);
    fclose(file);
    add(list, bytes, size);
    free(bytes);
    return true;
}

static int is_shown(const struct dirent *entry)
{
    return entry->d_name[0] != '.';
}

static void add_folder(struct blobs *list, const char *folder)
{
    struct dirent **entries = NULL;
    int count = scandir(folder, &entries, is_shown, alphasort);
    for (int i = 0; i < count; i++) {
        char path[4096];
        snprintf(path, sizeof path, "%s/%s", folder, entries[i]->d_name);
        if (!add_file(list, path))
            fprintf(stderr, "fuzz: cannot read %s\n", path);
        free(entries[i]);
    }
    free(entries);
}

/* Lines of the form name="text" or "text", with \" \\ and \xHH. */
static size_t unescape(const char *text, uint8_t *out)
{
    size_t used = 0;
    while (*text && *text != '"') {
        unsigned value;
        if (text[0] == '\\' && text[1] == 'x' && sscanf(text + 2, "%2x", &value) == 1) {
            out[used++] = (uint8_t)value;
            text += 4;
            continue;
        }
        if (text[0] == '\\' && text[1])
            text++;
        out[used++] = (uint8_t)*text++;
    }
    return used;
}

static void add_dictionary(struct blobs *list, const char *path)
{
    char line[1024];
    uint8_t text[1024];
    FILE *file = path ? fopen(path, "r") : NULL;
    while (file && fgets(line, sizeof line, file)) {
        const char *quote = line[0] == '#' ? NULL : strchr(line, '"');
        if (quote)
            add(list, text, unescape(quote + 1, text));
    }
    if (file)
        fclose(file);
}

/* ---- mutations ---- */
static void insert(struct blob *b, size_t at, const uint8_t *bytes, size_t size)
{
    if (b->size + size > INPUT_LIMIT)
        return;
    memmove(b->bytes + at + size, b->bytes + at, b->size - at);
    memmove(b->bytes + at, bytes, size);
    b->size += size;
}

static void erase(struct blob *b, size_t at, size_t size)
{
    memmove(b->bytes + at, b->bytes + at + size, b->size - at - size);
    b->size -= size;
}

static void insert_number(struct blob *b, size_t at)
{
    static const char *const numbers[] = {
        "0",   "1",     "-1",         "00",          "9",          "10",
        "255", "65536", "2147483647", "-2147483648", "4294967296", "999999999999999999999",
        ".5",  "1.5e9", "0.0000001"};
    const char *text = numbers[random_below(sizeof numbers / sizeof *numbers)];
    insert(b, at, (const uint8_t *)text, strlen(text));
}

static void repeat_part(struct blob *b, size_t at)
{
    uint8_t part[64];
    size_t size = 1 + random_below(sizeof part);
    if (size > b->size - at)
        size = b->size - at;
    memcpy(part, b->bytes + at, size);
    for (size_t times = 1 + random_below(4); times > 0; times--)
        insert(b, at, part, size);
}

static void splice(struct blob *b, size_t at, const struct blobs *seeds)
{
    const struct blob *other = &seeds->items[random_below(seeds->count)];
    if (other->size == 0)
        return;
    size_t from = random_below(other->size);
    size_t size = 1 + random_below(other->size - from < 256 ? other->size - from : 256);
    if (from + size <= other->size)
        insert(b, at, other->bytes + from, size);
}

static void mutate_once(struct blob *b, const struct blobs *seeds, const struct blobs *words)
{
    size_t at = random_below(b->size + 1), left = b->size - at;
    uint8_t byte = (uint8_t)random_below(256);
    switch (random_below(9)) {
    case 0:
        if (left)
            b->bytes[at] ^= (uint8_t)(1u << random_below(8));
        break;
    case 1:
        if (left)
            b->bytes[at] = byte;
        break;
    case 2:
        insert(b, at, &byte, 1);
        break;
    case 3:
        erase(b, at, random_below(left < 16 ? left + 1 : 16));
        break;
    case 4:
        erase(b, at, random_below(left + 1));
        break;
    case 5:
        insert_number(b, at);
        break;
    case 6:
        repeat_part(b, at);
        break;
    case 7:
        splice(b, at, seeds);
        break;
    default:
        if (words->count) {
            const struct blob *word = &words->items[random_below(words->count)];
            insert(b, at, word->bytes, word->size);
        }
    }
}

/* ---- runs ---- */
static void run(const uint8_t *bytes, size_t size)
{
    uint8_t *exact = must(malloc(size ? size : 1));
    if (size)
        memcpy(exact, bytes, size);
    current_bytes = exact;
    current_size = size;
    current_number++;
    alarm(HANG_SECONDS);
    LLVMFuzzerTestOneInput(exact, size);
    alarm(0);
    free(exact);
}

static void run_seed(const struct blob *seed)
{
    run(seed->bytes, seed->size);
    size_t step = seed->size / 64 + 1;
    for (size_t size = 0; size < seed->size; size += step)
        run(seed->bytes, size);
}

static void run_mutations(const struct blobs *seeds, const struct blobs *words, unsigned long count)
{
    struct blob work = {.bytes = must(malloc(INPUT_LIMIT + 1))};
    for (unsigned long i = 0; i < count; i++) {
        const struct blob *seed = &seeds->items[i % seeds->count];
        memcpy(work.bytes, seed->bytes, seed->size);
        work.size = seed->size;
        for (size_t times = 1 + random_below(8); times > 0; times--)
            mutate_once(&work, seeds, words);
        run(work.bytes, work.size);
    }
    free(work.bytes);
}

static void free_blobs(struct blobs *list)
{
    for (size_t i = 0; i < list->count; i++)
        free(list->items[i].bytes);
    free(list->items);
}

int main(int argc, char **argv)
{
    struct blobs seeds = {0}, words = {0};
    if (argc < 2) {
        fprintf(stderr, "usage: %s SEED_FOLDER [COUNT [START]]\n", argv[0]);
        return 2;
    }
    if (__sanitizer_set_death_callback)
        __sanitizer_set_death_callback(tell_input);
    signal(SIGALRM, on_signal);
    signal(SIGABRT, on_signal);
    add_folder(&seeds, argv[1]);
    if (seeds.count == 0) {
        fprintf(stderr, "fuzz: no seeds in %s\n", argv[1]);
        return 2;
    }
    add_dictionary(&words, getenv("FUZZ_DICT"));
    random_state = argc > 3 ? strtoull(argv[3], NULL, 10) | 1 : 20260101;
    for (size_t i = 0; i < seeds.count; i++)
        run_seed(&seeds.items[i]);
    run_mutations(&seeds, &words, argc > 2 ? strtoul(argv[2], NULL, 10) : 1000);
    printf("%s: %lu inputs from %zu seeds, none failed\n", argv[0], current_number, seeds.count);
    free_blobs(&seeds);
    free_blobs(&words);
    return 0;
}
