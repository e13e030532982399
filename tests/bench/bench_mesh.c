/*
 * Both meshes of a layer, beside GEOS's union of the same polygons in the same run: generated
 * layers of 1,000 to 300,000 objects (13 million edges) and, when ISTHMUS_BOARDS names a folder of
 * real packages, every copper layer in it. Times are processor time of one thread, the best of
 * two runs, or of more where they are short: the program too makes one mesh after the other, with
 * the allocator set as here. Each measurement has a process of its own, so that its peak memory can
 * be read.
 *
 * What is compared: the union of one object's polygon after the other's, in GEOS's fastest way (its
 * cascaded union in floating precision, without the rounding to a grid that ours does), its
 * polygons built and made valid before. A layer of several runs of dark and clear is put together
 * from the unions of its runs.
 */
#include "base/keep_memory.h"
#include "hints.h"
#include "isthmus/mesh.h"
#include "polygons.h"
#include "random_layer.h"

#include <dirent.h>
#include <malloc.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define GEOS_OBJECT_LIMIT 36000 /* above, the union takes minutes */
#define LEAST_RUNS 2            /* of which the fastest counts; */
#define SHORT_S 0.1             /* shorter runs are repeated, */
#define REPEATS 5               /* so often at most */

struct measured {
    double seconds;
    double heap_bytes; /* the most that was held at one time */
    double bytes;      /* what the process grew by: pages of code and gaps in the heap as well */
    double prepare_seconds; /* GEOS: building the polygons and making them valid */
    double image_vertices, sheet_vertices, crossings, islands, area_mm2, drift_nm;
    int status;
};

static double processor_seconds(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static double resident_bytes(void)
{
    long pages = 0;
    FILE *file = fopen("/proc/self/statm", "r");
    if (!file || fscanf(file, "%*d %ld", &pages) != 1)
        pages = 0;
    if (file)
        fclose(file);
    return (double)pages * (double)sysconf(_SC_PAGESIZE);
}

/* ---- what the heap holds: malloc and its kin, counted ---- */

static size_t held_bytes, most_held_bytes;
static bool is_counting = true; /* not while GEOS runs, which would be slower for it */

static void *counted(void *memory)
{
    if (memory && is_counting)
        held_bytes += malloc_usable_size(memory) + sizeof(size_t);
    if (held_bytes > most_held_bytes)
        most_held_bytes = held_bytes;
    return memory;
}

static void uncount(void *memory)
{
    if (memory && is_counting)
        held_bytes -= malloc_usable_size(memory) + sizeof(size_t);
}

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *memory, size_t size);
void __libc_free(void *memory);

void *malloc(size_t size)
{
    return counted(__libc_malloc(size));
}

void *calloc(size_t count, size_t size)
{
    return counted(__libc_calloc(count, size));
}

void *realloc(void *memory, size_t size)
{
    size_t before = memory && is_counting ? malloc_usable_size(memory) + sizeof(size_t) : 0;
    void *moved = __libc_realloc(memory, size);
    if (moved || size == 0)
        held_bytes -= before;
    return counted(moved);
}

void free(void *memory)
{
    uncount(memory);
    __libc_free(memory);
}

static struct measured measure_mesh(const struct paint *paint)
{
    struct sheet_mesh mesh;
    size_t held_before = most_held_bytes = held_bytes;
    double before = processor_seconds();
    struct measured out = {.status = (int)sheet_mesh_build(paint, 0, NULL, NULL, &mesh)};
    out.seconds = processor_seconds() - before;
    out.heap_bytes = (double)(most_held_bytes - held_before);
    out.image_vertices = (double)mesh.image_vertex_count;
    out.sheet_vertices = mesh.cdt.point_count;
    out.crossings = (double)mesh.crossing_count;
    out.islands = mesh.component_count;
    out.drift_nm = mesh.drift_nm;
    for (uint32_t i = 0; i < mesh.component_count; i++)
        out.area_mm2 += mesh.component_area_mm2[i];
    sheet_mesh_free(&mesh);
    return out;
}

static struct measured measure_geos(const struct paint *paint)
{
    struct measured out = {0};
    GEOSContextHandle_t geos = GEOS_init_r();
    is_counting = false; /* this process does nothing else */
    double before = processor_seconds();
    GEOSGeometry **parts = polygons_of_objects(geos, paint);
    out.prepare_seconds = processor_seconds() - before;
    before = processor_seconds();
    GEOSGeometry *copper = polygons_unite(geos, paint, parts);
    out.seconds = processor_seconds() - before;
    GEOSArea_r(geos, copper, &out.area_mm2);
    out.area_mm2 *= 1e-12;
    out.islands = GEOSGetNumGeometries_r(geos, copper);
    GEOSGeom_destroy_r(geos, copper);
    GEOS_finish_r(geos);
    return out;
}

/* The fastest of some runs in one process: the first pays for its pages, the others find them. */
static struct measured best_of(struct measured (*measure)(const struct paint *),
                               const struct paint *paint)
{
    struct measured best = measure(paint);
    double total = best.seconds;
    for (unsigned i = 1; i < REPEATS && (i < LEAST_RUNS || total < SHORT_S); i++) {
        struct measured again = measure(paint);
        total += again.seconds;
        if (again.seconds < best.seconds)
            best = again;
    }
    return best;
}

/* In a process of its own; status is -1 when that failed. */
static struct measured apart(struct measured (*measure)(const struct paint *),
                             const struct paint *paint)
{
    struct measured out = {.status = -1};
    int ends[2];
    fflush(stdout);
    malloc_trim(0); /* freed memory would be taken again unnoticed */
    if (pipe(ends) != 0)
        return out;
    pid_t child = fork();
    if (child == 0) {
        struct rusage usage;
        double before = resident_bytes();
        struct measured found = best_of(measure, paint);
        getrusage(RUSAGE_SELF, &usage);
        found.bytes = (double)usage.ru_maxrss * 1024 - before;
        _exit(write(ends[1], &found, sizeof found) == sizeof found ? 0 : 1);
    }
    close(ends[1]);
    struct measured found;
    if (child > 0 && read(ends[0], &found, sizeof found) == sizeof found)
        out = found;
    close(ends[0]);
    if (child > 0)
        waitpid(child, NULL, 0);
    return out;
}

static void print_head(void)
{
    printf("%-28s %8s %5s %9s %9s %9s %9s %8s %7s %6s %6s %9s %9s %6s %9s\n", "layer", "objects",
           "runs", "edges", "image", "boundary", "crossings", "ms", "us/edge", "heap B", "peak B",
           "GEOS ms", "(prepare)", "ratio", "area diff");
}

/* Runs of one effect, each united by itself. */
static size_t run_count(const struct paint *paint)
{
    size_t count = paint->object_count > 0;
    for (size_t i = 1; i < paint->object_count; i++)
        count += paint->objects[i].effect != paint->objects[i - 1].effect;
    return count;
}

static void print_row(const char *name, const struct paint *paint, const struct measured *ours,
                      const struct measured *geos)
{
    printf("%-28.28s %8zu %5zu %9zu %9.0f %9.0f %9.0f %8.1f %7.3f %6.1f %6.1f", name,
           paint->object_count, run_count(paint), paint->edge_count, ours->image_vertices,
           ours->sheet_vertices, ours->crossings, ours->seconds * 1e3,
           ours->seconds * 1e6 / (double)paint->edge_count, ours->heap_bytes / ours->image_vertices,
           ours->bytes / ours->image_vertices);
    if (geos)
        printf(" %9.1f %9.1f %6.1f %9.1e", geos->seconds * 1e3, geos->prepare_seconds * 1e3,
               geos->seconds / ours->seconds, fabs(ours->area_mm2 / geos->area_mm2 - 1));
    printf("\n");
}

#define MAX_ROWS 512
struct totals {
    double ours, geos;
    double ratios[MAX_ROWS]; /* layer by layer */
    size_t ratio_count;
    double edges[MAX_ROWS], seconds[MAX_ROWS], heap[MAX_ROWS];
    size_t count;
    double most_heap_bytes, most_bytes; /* a vertex, among layers of LARGE vertices and more */
};
#define LARGE 3000 /* smaller ones are paid by the page */

static void add_to_totals(struct totals *totals, const struct paint *paint,
                          const struct measured *ours, const struct measured *geos)
{
    if (totals->count == MAX_ROWS)
        return;
    totals->edges[totals->count] = (double)paint->edge_count;
    totals->heap[totals->count] = ours->heap_bytes;
    totals->seconds[totals->count++] = ours->seconds;
    if (ours->image_vertices >= LARGE) {
        totals->most_heap_bytes =
            fmax(totals->most_heap_bytes, ours->heap_bytes / ours->image_vertices);
        totals->most_bytes = fmax(totals->most_bytes, ours->bytes / ours->image_vertices);
    }
    if (!geos)
        return;
    totals->ours += ours->seconds;
    totals->geos += geos->seconds;
    totals->ratios[totals->ratio_count++] = geos->seconds / ours->seconds;
}

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void print_totals(struct totals *totals)
{
    if (totals->ratio_count == 0)
        return;
    qsort(totals->ratios, totals->ratio_count, sizeof *totals->ratios, rising);
    printf("faster than GEOS's union: %.1f times in total (%.2f s, %.2f s); layer by layer median "
           "%.1f, least %.1f, most %.1f of %zu\n",
           totals->geos / totals->ours, totals->ours, totals->geos,
           totals->ratios[totals->ratio_count / 2], totals->ratios[0],
           totals->ratios[totals->ratio_count - 1], totals->ratio_count);
    printf("at most %.0f bytes of heap a vertex of the image (layers of %d vertices and more); the "
           "process grew by at most %.0f\n",
           totals->most_heap_bytes, LARGE, totals->most_bytes);
}

/* The exponent p of y = c x^p by least squares over the logarithms. */
static double exponent(const double *x, const double *y, size_t count)
{
    double x_mean = 0, xx = 0, xy = 0;
    for (size_t i = 0; i < count; i++)
        x_mean += log(x[i]) / (double)count;
    for (size_t i = 0; i < count; i++) {
        xx += (log(x[i]) - x_mean) * (log(x[i]) - x_mean);
        xy += (log(x[i]) - x_mean) * log(y[i]);
    }
    return xy / xx;
}

static double exponent_of_n_log_n(const double *n, size_t count)
{
    double y[MAX_ROWS];
    for (size_t i = 0; i < count; i++)
        y[i] = n[i] * log(n[i]);
    return exponent(n, y, count);
}

/* Nanoseconds a load takes at random places within so many bytes, each waiting for the one before:
 * what the memory alone adds as layers grow. */
#define LOADS 1000000
static double ns_of_a_load(double bytes)
{
    size_t count = (size_t)(bytes / sizeof(uint32_t));
    uint32_t *next = calloc(count, sizeof *next);
    if (!next || count < 2 || count > UINT32_MAX)
        return NAN;
    for (size_t i = 0; i < count; i++) /* every page must be there */
        next[i] = (uint32_t)i;
    uint64_t at = 0, dice = 1;
    double before = processor_seconds();
    for (size_t i = 0; i < LOADS; i++) {
        dice = dice * 6364136223846793005U + 1442695040888963407U + next[at % count];
        at = dice >> 20;
    }
    double ns = (processor_seconds() - before) * 1e9 / LOADS;
    free(next);
    return at == 1 ? NAN : ns; /* so that the loop is not left out */
}

/*
 * Does time grow faster than n log n? Beside the times stands what a load from memory costs when it
 * is spread over as much memory as the layer holds.
 */
static void print_growth(const struct totals *totals)
{
    printf("growth of processor time: n^%.3f; n log n over these sizes: n^%.3f\n"
           "%12s %12s %16s %26s\n",
           exponent(totals->edges, totals->seconds, totals->count),
           exponent_of_n_log_n(totals->edges, totals->count), "edges", "ns an edge",
           "over log2(edges)", "ns a load in its memory");
    for (size_t i = 0; i < totals->count; i++) {
        double ns = totals->seconds[i] * 1e9 / totals->edges[i];
        printf("%12.0f %12.0f %16.1f %26.1f\n", totals->edges[i], ns, ns / log2(totals->edges[i]),
               ns_of_a_load(totals->heap[i]));
    }
}

/* ---- instructions, which no neighbour on the machine disturbs ---- */

/* Runs this program again under valgrind's callgrind, which counts those of sheet_mesh_build(). */
static double instructions_of(const char *self, size_t object_count)
{
    char command[4400], line[256];
    double count = NAN;
    snprintf(command, sizeof command,
             "valgrind --tool=callgrind --toggle-collect=sheet_mesh_build "
             "--callgrind-out-file=/dev/null '%s' --mesh %zu 2>&1",
             self, object_count);
    FILE *run = popen(command, "r");
    while (run && fgets(line, sizeof line, run)) {
        const char *found = strstr(line, "Collected :");
        if (found)
            count = strtod(found + strlen("Collected :"), NULL);
    }
    if (run)
        pclose(run);
    return count;
}

static void print_instructions(const struct totals *totals, const size_t *object_counts,
                               size_t count)
{
    char self[4096];
    double instructions[MAX_ROWS];
    ssize_t length = readlink("/proc/self/exe", self, sizeof self - 1);
    self[length < 0 ? 0 : length] = '\0';
    fflush(stdout);
    for (size_t i = 0; i < count; i++) {
        instructions[i] = instructions_of(self, object_counts[i]);
        if (isnan(instructions[i])) {
            printf("instructions were not counted: valgrind is not installed\n");
            return;
        }
    }
    printf("growth of instructions: n^%.3f; n log n over these sizes: n^%.3f\n%12s %24s\n",
           exponent(totals->edges, instructions, count), exponent_of_n_log_n(totals->edges, count),
           "edges", "instructions an edge");
    for (size_t i = 0; i < count; i++)
        printf("%12.0f %24.0f\n", totals->edges[i], instructions[i] / totals->edges[i]);
}

static bool run_layer(const char *name, const struct paint *paint, struct totals *totals)
{
    struct measured ours = apart(measure_mesh, paint);
    if (ours.status != MESH_OK) {
        printf("%-28.28s FAILED with status %d\n", name, ours.status);
        return false;
    }
    bool has_geos = paint->object_count <= GEOS_OBJECT_LIMIT;
    struct measured geos = {.status = -1};
    if (has_geos)
        geos = apart(measure_geos, paint);
    has_geos = has_geos && geos.status == 0;
    print_row(name, paint, &ours, has_geos ? &geos : NULL);
    add_to_totals(totals, paint, &ours, has_geos ? &geos : NULL);
    return true;
}

static bool paint_drawing(const struct drawing *drawing, struct pos_nm origin, struct paint *paint)
{
    paint_init(paint, origin, 500);
    for (uint32_t i = 0; i < drawing->object_count; i++)
        if (paint_add_drawn(paint, drawing, i,
                            drawing->objects[i].is_dark ? PAINT_DARK : PAINT_CLEAR, i,
                            0) != MESH_OK)
            return false;
    return true;
}

static bool paint_generated(size_t object_count, unsigned clear_in, struct shapes *shapes,
                            struct paint *paint)
{
    int64_t size = llround(sqrt(0.4 * (double)object_count) / 2 * 1e6);
    random_layer_draw(&(struct random_layer){7, object_count, size, 1, 200000, clear_in}, shapes);
    return paint_drawing(&shapes->drawing, (struct pos_nm){0, 0}, paint);
}

static bool run_generated(size_t object_count, unsigned clear_in, struct totals *totals)
{
    struct shapes shapes = {0};
    struct paint paint;
    char name[40];
    snprintf(name, sizeof name, "%s, %zu", clear_in ? "dark and clear" : "dark", object_count);
    bool ok =
        paint_generated(object_count, clear_in, &shapes, &paint) && run_layer(name, &paint, totals);
    paint_free(&paint);
    shapes_free(&shapes);
    return ok;
}

/* ---- real layers ---- */

struct real_layer {
    char name[64];
    struct drawing drawing;
};
struct real_layers {
    struct arena *arena;
    struct real_layer items[512];
    size_t count;
};

static void add_layer(struct real_layers *layers, const char *board, const struct source_file *file)
{
    struct diag_list diags = {.arena = layers->arena};
    struct real_layer *layer = &layers->items[layers->count];
    if (layers->count == sizeof layers->items / sizeof *layers->items ||
        gerber_read(1, file->bytes, file->size, 1000000, layers->arena, &diags, &layer->drawing) !=
            DRAWING_OK ||
        layer->drawing.object_count == 0)
        return;
    const char *base = strrchr(file->name, '/');
    snprintf(layer->name, sizeof layer->name, "%.14s/%.40s", board, base ? base + 1 : file->name);
    layers->count++;
}

static void read_package(struct real_layers *layers, const char *folder, const char *board)
{
    char path[1024];
    snprintf(path, sizeof path, "%s/%s", folder, board);
    const char *paths[1] = {path};
    struct diag_list diags = {.arena = layers->arena};
    struct file_table *files = arena_alloc(layers->arena, 1, sizeof *files);
    if (package_read(paths, 1, &package_default_limits, layers->arena, files, &diags) != PACKAGE_OK)
        return;
    struct file_hint *hints = arena_alloc(layers->arena, files->count + 1, sizeof *hints);
    struct file_role *roles = arena_alloc(layers->arena, files->count + 1, sizeof *roles);
    struct job_facts job = {0};
    for (size_t i = 0; i < files->count; i++)
        hints[i] = hint_of_file((uint32_t)i + 1, &files->files[i], layers->arena);
    if (roles_decide(files, hints, files->count, &job, NULL, 0, layers->arena, &diags, roles) !=
        PACKAGE_OK)
        return;
    for (size_t i = 0; i < files->count; i++)
        if (roles[i].role == ROLE_COPPER)
            add_layer(layers, board, &files->files[i]);
}

static int by_size(const void *a, const void *b)
{
    const struct real_layer *p = a, *q = b;
    if (p->drawing.seg_count != q->drawing.seg_count)
        return p->drawing.seg_count > q->drawing.seg_count ? -1 : 1;
    return strcmp(p->name, q->name);
}

static void read_all(struct real_layers *layers, const char *folder)
{
    DIR *directory = opendir(folder);
    if (!directory)
        return;
    for (struct dirent *entry; (entry = readdir(directory));)
        if (entry->d_name[0] != '.')
            read_package(layers, folder, entry->d_name);
    closedir(directory);
    qsort(layers->items, layers->count, sizeof *layers->items, by_size);
}

static bool run_real(const char *folder)
{
    struct real_layers *layers = calloc(1, sizeof *layers);
    struct totals *totals = calloc(1, sizeof *totals);
    bool ok = layers && totals;
    if (ok) {
        layers->arena = arena_new("bench");
        read_all(layers, folder);
        printf("\n%zu real copper layers\n", layers->count);
        print_head();
    }
    for (size_t i = 0; ok && i < layers->count; i++) {
        const struct drawing *drawing = &layers->items[i].drawing;
        struct pos_nm origin = {(drawing->min.x_nm + drawing->max.x_nm) / 2,
                                (drawing->min.y_nm + drawing->max.y_nm) / 2};
        struct paint paint;
        ok = paint_drawing(drawing, origin, &paint) &&
             run_layer(layers->items[i].name, &paint, totals);
        paint_free(&paint);
    }
    if (ok)
        print_totals(totals);
    if (layers)
        arena_free(layers->arena);
    free(layers);
    free(totals);
    return ok;
}

#define COUNTED 3 /* layers: counting takes fifty times as long as running */

static bool run_all_generated(void)
{
    struct totals *dark = calloc(1, sizeof *dark), *both = calloc(1, sizeof *both);
    const size_t counts[] = {1000, 3000, 10000, 30000, 100000, 300000};
    bool ok = dark && both;
    for (size_t i = 0; ok && i < sizeof counts / sizeof *counts; i++)
        ok = run_generated(counts[i], 0, dark);
    for (size_t count = 1000; ok && count <= 100000; count *= 10)
        ok = run_generated(count, 3, both);
    if (ok) {
        printf("dark layers: ");
        print_totals(dark);
        print_growth(dark);
        print_instructions(dark, counts, COUNTED);
    }
    free(dark);
    free(both);
    return ok;
}

/* One mesh and nothing else: what instructions are counted of. */
static int mesh_alone(size_t object_count)
{
    struct shapes shapes = {0};
    struct paint paint;
    bool ok =
        paint_generated(object_count, 0, &shapes, &paint) && measure_mesh(&paint).status == MESH_OK;
    paint_free(&paint);
    shapes_free(&shapes);
    return ok ? 0 : 1;
}

int main(int argc, char **argv)
{
    keep_memory();
    if (argc == 3 && strcmp(argv[1], "--mesh") == 0)
        return mesh_alone((size_t)strtoul(argv[2], NULL, 10));
    const char *folder = getenv("ISTHMUS_BOARDS");
    printf(
        "us an edge of what was drawn (arcs as chords), bytes a vertex of the image (what is left "
        "of it\nwhen buried ends are cut, and crossings), all steps together: held of the heap, "
        "and "
        "what the process grew by.\nratio: GEOS's union "
        "alone\n(its polygons built and made valid before: prepare) over ours; runs: of dark or "
        "clear.\n");
    print_head();
    bool ok = run_all_generated();
    if (folder && *folder)
        ok = run_real(folder) && ok;
    else
        printf("no real layers: set ISTHMUS_BOARDS to a folder of real packages\n");
    return ok ? 0 : 1;
}
