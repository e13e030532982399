/*
 * Time and memory of the sheet solve: two planes, stitched by plated holes and pierced by clearance
 * holes, fed at opposite corners.
 */
#include <sys/resource.h>
#include <time.h>
#include "assertions.h"
#include "solve_world.h"

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* side x side holes of 0.3 mm, every other one plated, 2 mm apart. */
static struct world *planes(int side)
{
    struct world *world = world_new();
    double edge_mm = 2.0 * side + 4;
    for (uint32_t s = 0; s < 2; s++) {
        world_sheet(world, 0.035, 1);
        world_box(world, s, LOOP_ADDS, 0, 0, edge_mm, edge_mm);
    }
    world_contact_disc(world, 0, 0, 1.5, 1.5, 1);
    world_contact_disc(world, 1, 1, edge_mm - 1.5, edge_mm - 1.5, 1);
    for (int i = 0; i < side * side; i++) {
        double x = 3 + 2.0 * (i % side), y = 3 + 2.0 * (i / side);
        if (i % 2)
            world_hole(world, x, y, 0.15, 0.02, ISTHMUS_NONE);
        else
            for (uint32_t s = 0; s < 2; s++)
                world_disc(world, s, LOOP_CUTS, BOUND_CUT, ISTHMUS_NONE, x, y, 0.5);
    }
    world_build(world);
    return world;
}

static void measure(int side)
{
    struct world *world = planes(side);
    struct solved solved = {.tolerance = 2e-3};
    double start = now_s();
    enum solve_status status = world_solve(world, (double[]){1, -1}, &solved);
    double seconds = now_s() - start;
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    printf("%4d holes: %7zu points, %zu meshes, %6.2f s, %5.1f us a point, peak %ld MB%s\n",
           side * side, solved.answer.node_count, solved.answer.round_count, seconds,
           1e6 * seconds / (double)(solved.answer.node_count + 1), usage.ru_maxrss / 1024,
           status == SOLVE_OK ? "" : solve_problem(status));
    world_free(world);
}

int main(void)
{
    for (int side = 2; side <= 16; side *= 2)
        measure(side);
    return 0;
}
