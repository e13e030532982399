/* Items of work side by side in threads. */
#include "isthmus/base.h"

#include <pthread.h>
#include <stdatomic.h>
#include <unistd.h>

struct shift { /* what the hands share */
    void (*work)(size_t item, unsigned hand, void *context);
    void *context;
    size_t item_count;
    atomic_size_t next;
};
struct hand {
    struct shift *shift;
    unsigned number;
};

static void *work_on(void *context)
{
    const struct hand *hand = context;
    struct shift *shift = hand->shift;
    for (size_t item; (item = atomic_fetch_add(&shift->next, 1)) < shift->item_count;)
        shift->work(item, hand->number, shift->context);
    return NULL;
}

unsigned hands_for(unsigned wanted, size_t item_count)
{
    long processors = wanted ? 0 : sysconf(_SC_NPROCESSORS_ONLN);
    size_t count = wanted ? wanted : processors > 0 ? (size_t)processors : 1;
    if (count > item_count)
        count = item_count;
    return count < 1 ? 1 : count > MOST_HANDS ? MOST_HANDS : (unsigned)count;
}

void hands_work(unsigned hand_count, size_t item_count,
                void (*work)(size_t item, unsigned hand, void *context), void *context)
{
    struct shift shift = {work, context, item_count, 0};
    struct hand hands[MOST_HANDS];
    pthread_t threads[MOST_HANDS];
    unsigned started = 1; /* this thread is the first hand */
    for (unsigned i = 0; i < MOST_HANDS; i++)
        hands[i] = (struct hand){&shift, i};
    while (started < hand_count && started < MOST_HANDS &&
           pthread_create(&threads[started], NULL, work_on, &hands[started]) == 0)
        started++;
    work_on(&hands[0]);
    for (unsigned i = 1; i < started; i++)
        pthread_join(threads[i], NULL);
}
