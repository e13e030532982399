/* The bottom's thickness goes to its layer; what the job file states fills the facts that are still
 * assumed; contradictions are said. */
#include "build.h"

#include <math.h>

static void take_fact(struct fact *fact, double value, uint32_t file_id)
{
    if (fact->source != FACT_ASSUMED || !(value > 0))
        return;
    *fact = (struct fact){
        .value = value, .source = FACT_JOB_FILE, .at = (struct source_pos){file_id, 0, 0}};
}

static void check_layer_count(struct build *build)
{
    const struct job_facts *job = &build->board->job;
    if (job->layer_count == 0 || job->layer_count == build->board->layer_count)
        return;
    diag_add(build->diags, DIAG_WARNING, "job-layer-count", (struct source_pos){job->file_id, 0, 0},
             "check that no copper layer is missing from the package",
             "the job file states %u copper layers, the package holds %zu", job->layer_count,
             build->board->layer_count);
}

/* Per layer only when the job file speaks of exactly these layers. */
static void take_copper(struct build *build)
{
    const struct job_facts *job = &build->board->job;
    struct board_facts *facts = &build->board->facts;
    if (job->copper_count != build->board->layer_count)
        return;
    for (size_t i = 0; i < job->copper_count && i < BOARD_MAX_COPPER; i++) {
        bool is_outer = i == 0 || i + 1 == job->copper_count;
        const struct fact *all = is_outer ? &facts->outer_copper_um : &facts->inner_copper_um;
        if (all->source == FACT_ASSUMED && !isnan(job->copper_um[i]))
            take_fact(&facts->copper_um[i + 1], job->copper_um[i], job->file_id);
    }
}

enum board_status build_facts(struct build *build)
{
    const struct job_facts *job = &build->board->job;
    if (!board_facts_settle(&build->board->facts, build->board->layer_count, build->diags))
        return BOARD_REFUSED;
    if (job->file_id == 0)
        return BOARD_OK;
    check_layer_count(build);
    take_copper(build);
    if (!isnan(job->board_thickness_mm))
        take_fact(&build->board->facts.board_thickness_mm, job->board_thickness_mm, job->file_id);
    return BOARD_OK;
}
