/*
 * Both meshes of a layer, beside GEOS's union of the same polygons in the same run: generated
 * layers of 1,000 to 300,000 objects and, when ISTHMUS_BOARDS names a folder of real packages,
 * the largest copper layers in it. Times are processor time; each measurement has a process of its
 * own, so that its peak memory can be read.
 */
#include "hints.h"
#include "isthmus/mesh.h"
#include "polygons.h"
#include "random_layer.h"

#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define GEOS_OBJECT_LIMIT 36000 /* above, the union takes minutes */
#define REAL_LAYER_LIMIT 12

struct measured {
    double seconds, bytes;
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

static struct measured measure_mesh(const struct paint *paint)
{
    struct sheet_mesh mesh;
    double before = processor_seconds();
    struct measured out = {.status = (int)sheet_mesh_build(paint, 0, NULL, NULL, &mesh)};
    out.seconds = processor_seconds() - before;
    out.image_vertices = (double)mesh.image_vertex_count;
    out.sheet_vertices = mesh.cdt.point_count;
    out.crossings = (double)mesh.crossing_count;
    out.islands = mesh.component_count;
    out.drift_nm = mesh.drift_nm;
    for (uint32_t i = 0; i < mesh.component_count; i++)
        out.area_mm2 += mesh.component_area_mm2[i];
    return out;
}

static struct measured measure_geos(const struct paint *paint)
{
    struct measured out = {0};
    GEOSContextHandle_t geos = GEOS_init_r();
    double before = processor_seconds();
    GEOSGeometry **parts = polygons_of_objects(geos, paint);
    out.prepare_seconds = processor_seconds() - before;
    before = processor_seconds();
    GEOSGeometry *copper = polygons_unite(geos, paint, parts);
    out.seconds = processor_seconds() - before;
    GEOSArea_r(geos, copper, &out.area_mm2);
    out.area_mm2 *= 1e-12;
    out.islands = GEOSGetNumGeometries_r(geos, copper);
    return out;
}

/* In a process of its own; status is -1 when that failed. */
static struct measured apart(struct measured (*measure)(const struct paint *),
                             const struct paint *paint)
{
    struct measured out = {.status = -1};
    int ends[2];
    fflush(stdout);
    if (pipe(ends) != 0)
        return out;
    pid_t child = fork();
    if (child == 0) {
        struct rusage usage;
        double before = resident_bytes();
        struct measured found = measure(paint);
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
    printf("%-28s %8s %9s %9s %9s %8s %8s %7s %7s %9s %9s %7s %9s\n", "layer", "objects", "edges",
           "image", "boundary", "crossings", "ms", "us/vert", "B/vert", "GEOS ms", "(prepare)",
           "ratio", "area diff");
}

static void print_row(const char *name, const struct paint *paint, const struct measured *ours,
                      const struct measured *geos)
{
    printf("%-28.28s %8zu %9zu %9.0f %9.0f %8.0f %8.1f %7.3f %7.1f", name, paint->object_count,
           paint->edge_count, ours->image_vertices, ours->sheet_vertices, ours->crossings,
           ours->seconds * 1e3, ours->seconds * 1e6 / ours->image_vertices,
           ours->bytes / ours->image_vertices);
    if (geos)
        printf(" %9.1f %9.1f %7.1f %9.1e", geos->seconds * 1e3, geos->prepare_seconds * 1e3,
               geos->seconds / ours->seconds, fabs(ours->area_mm2 / geos->area_mm2 - 1));
    printf("\n");
}

struct totals {
    double ours, geos;
};

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
    if (has_geos) {
        totals->ours += ours.seconds;
        totals->geos += geos.seconds;
    }
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

static bool run_generated(size_t object_count, unsigned clear_in, struct totals *totals)
{
    struct shapes shapes = {0};
    struct paint paint;
    char name[40];
    int64_t size = llround(sqrt(0.4 * (double)object_count) / 2 * 1e6);
    random_layer_draw(&(struct random_layer){7, object_count, size, 1, 200000, clear_in}, &shapes);
    snprintf(name, sizeof name, "%s, %zu", clear_in ? "dark and clear" : "dark", object_count);
    bool ok = paint_drawing(&shapes.drawing, (struct pos_nm){0, 0}, &paint) &&
              run_layer(name, &paint, totals);
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
    struct totals totals = {0};
    if (!layers)
        return false;
    layers->arena = arena_new("bench");
    read_all(layers, folder);
    printf("\nthe largest of %zu real copper layers\n", layers->count);
    print_head();
    bool ok = true;
    for (size_t i = 0; i < layers->count && i < REAL_LAYER_LIMIT; i++) {
        const struct drawing *drawing = &layers->items[i].drawing;
        struct pos_nm origin = {(drawing->min.x_nm + drawing->max.x_nm) / 2,
                                (drawing->min.y_nm + drawing->max.y_nm) / 2};
        struct paint paint;
        ok = paint_drawing(drawing, origin, &paint) &&
             run_layer(layers->items[i].name, &paint, &totals) && ok;
        paint_free(&paint);
    }
    if (totals.ours > 0)
        printf("all of these: %.1f times faster than GEOS\n", totals.geos / totals.ours);
    arena_free(layers->arena);
    free(layers);
    return ok;
}

int main(void)
{
    const char *folder = getenv("ISTHMUS_BOARDS");
    struct totals totals = {0};
    bool ok = true;
    printf(
        "us and bytes are per vertex of the image, all steps together; ratio: GEOS's union alone,\n"
        "its polygons built and made valid before (prepare)\n");
    print_head();
    const size_t counts[] = {1000, 3000, 10000, 30000, 100000, 300000};
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++)
        ok = run_generated(counts[i], 0, &totals) && ok;
    for (size_t count = 1000; count <= 100000; count *= 10)
        ok = run_generated(count, 3, &totals) && ok;
    printf("all of these with a union beside them: %.1f times faster than GEOS\n",
           totals.geos / totals.ours);
    if (folder && *folder)
        ok = run_real(folder) && ok;
    else
        printf("no real layers: set ISTHMUS_BOARDS to a folder of real packages\n");
    return ok ? 0 : 1;
}
