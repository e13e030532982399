/* Where the job file and the rest of the package contradict each other: files, size, thickness. The
 * layer count is looked at with the facts. */
#include "build.h"

#include <math.h>
#include <string.h>
#include <strings.h>

/* Job files state the size with or without the width of the profile's line (0.1 to 0.2 mm). */
#define SIZE_TOLERANCE_MM 0.3
/* Boards are made within a tenth of their thickness (common practice, no source); masks and paste
 * are not in the sum. */
#define THICKNESS_SHARE 0.1
#define LEAST_THICKNESS_MM 0.1

static const char *last_part(const char *path)
{
    const char *part = path;
    for (; *path; path++)
        if (*path == '/' || *path == '\\')
            part = path + 1;
    return part;
}

static bool is_in_package(const struct build *build, const char *path)
{
    for (size_t i = 0; i < build->files->count; i++) {
        const struct source_file *file = &build->files->files[i];
        if (file->is_package && strcasecmp(last_part(file->name), last_part(path)) == 0)
            return true;
    }
    return false;
}

static void check_files(struct build *build)
{
    const struct job_facts *job = &build->board->job;
    for (size_t i = 0; i < job->entry_count; i++)
        if (job->entries[i].path && !is_in_package(build, job->entries[i].path))
            diag_add(build->diags, DIAG_WARNING, "job-file-missing",
                     (struct source_pos){job->file_id, 0, 0},
                     "check that the package is complete and of one export",
                     "the job file lists %s%s%s%s, which is not in the package",
                     job->entries[i].path, job->entries[i].file_function_count ? " (" : "",
                     job->entries[i].file_function_count ? job->entries[i].file_function[0] : "",
                     job->entries[i].file_function_count ? ")" : "");
}

static bool is_near(double stated_mm, double found_mm)
{
    return isnan(stated_mm) || fabs(stated_mm - found_mm) <= SIZE_TOLERANCE_MM;
}

/* Only of one board: a panel's job file may state either size. */
static void check_size(struct build *build)
{
    const struct board *board = build->board;
    const struct job_facts *job = &board->job;
    if (!board->has_profile || board->profile_piece_count > 1)
        return;
    double x_mm = (double)(board->max.x_nm - board->min.x_nm) / 1e6;
    double y_mm = (double)(board->max.y_nm - board->min.y_nm) / 1e6;
    if (!is_near(job->size_x_mm, x_mm) || !is_near(job->size_y_mm, y_mm))
        diag_add(build->diags, DIAG_WARNING, "job-size", (struct source_pos){job->file_id, 0, 0},
                 "check that profile and job file are of the same state of the board",
                 "the job file states a board of %.3f x %.3f mm, the profile is %.3f x %.3f mm",
                 job->size_x_mm, job->size_y_mm, x_mm, y_mm);
}

/* What the stack-up adds up to, without masks and paste; NAN where it leaves a dielectric open. */
static double stackup_mm(const struct job_facts *job)
{
    double sum_mm = 0;
    for (size_t i = 0; i < job->copper_count; i++) {
        if (!isnan(job->copper_um[i]))
            sum_mm += job->copper_um[i] * 1e-3;
        if (i + 1 < job->copper_count)
            sum_mm += job->dielectric_mm[i];
    }
    return job->copper_count > 1 ? sum_mm : (double)NAN;
}

static void check_thickness(struct build *build)
{
    const struct job_facts *job = &build->board->job;
    double sum_mm = stackup_mm(job);
    double tolerance_mm = fmax(THICKNESS_SHARE * job->board_thickness_mm, LEAST_THICKNESS_MM);
    if (isnan(sum_mm) || isnan(job->board_thickness_mm) ||
        fabs(sum_mm - job->board_thickness_mm) <= tolerance_mm)
        return;
    diag_add(build->diags, DIAG_WARNING, "job-thickness", (struct source_pos){job->file_id, 0, 0},
             "correct the stack-up or the board's thickness, and compare with what is ordered",
             "the job file states a board %.3f mm thick, its copper and dielectrics add up to "
             "%.3f mm",
             job->board_thickness_mm, sum_mm);
}

enum board_status build_job_check(struct build *build)
{
    if (build->board->job.file_id) {
        check_files(build);
        check_size(build);
        check_thickness(build);
    }
    return BOARD_OK;
}
