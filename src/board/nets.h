/* Between naming nets (nets.c) and gathering their terminals (terminals.c). */
#ifndef ISTHMUS_BOARD_NETS_H
#define ISTHMUS_BOARD_NETS_H

#include "names.h"

struct net_work {
    struct build *build;
    struct name_table names;
    struct claims claims;
    uint32_t *join;            /* per name: the name it is joined into, or itself */
    uint32_t *net_of_name;     /* per name: index into board.nets */
    struct net_clash *clashes; /* malloc'ed until the board has them all */
    size_t clash_count, clash_capacity;
};
/* One terminal a pin, one an unnamed contact; false: no memory. */
bool make_terminals(struct net_work *work);

#endif
