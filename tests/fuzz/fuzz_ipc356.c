/* Netlists: any bytes up to 64 KiB. What is read must hold together. */
#include "isthmus/netlist.h"

#include <stdlib.h>

#define LIMIT ((size_t)1 << 16)

static void check(const struct netlist *list, size_t size)
{
    if (list->point_count > size / 57 || !list->units) /* a record has at least 57 columns */
        abort();
    for (size_t i = 0; i < list->point_count; i++) {
        const struct netlist_point *point = &list->points[i];
        if (point->at.line == 0 || point->rotation_deg >= 360 || point->hole_nm < 0 ||
            (point->net && !point->net_as_written) || (point->is_via && point->ref))
            abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (size > LIMIT)
        return 0;
    struct arena *arena = arena_new("fuzz");
    struct diag_list diags = {.arena = arena};
    struct netlist list;
    enum netlist_status status = ipc356_read(1, bytes, size, arena, &diags, &list);
    if (status == NETLIST_OK)
        check(&list, size);
    else if (list.point_count != 0)
        abort();
    if ((status == NETLIST_REFUSED) != (diags.error_count > 0))
        abort();
    arena_free(arena);
    return 0;
}
