/* Which edges of a domain's boundary pass a place. */
#ifndef NECK_EDGE_INDEX_H
#define NECK_EDGE_INDEX_H

#include "neck/partition.h"

struct edge_index;
/* Lives in the arena; the domain must outlive it. NULL: no memory. */
struct edge_index *edge_index_new(const struct domain *domain, struct arena *arena);
/* All boundary edges that pass within 2 nm of a point, and some others, in the order of triangles.
 */
const struct domain_edge *edge_index_near(const struct edge_index *index, struct pt at,
                                          size_t *count);

#endif
