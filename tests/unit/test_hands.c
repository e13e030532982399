/* Work side by side: every item once, whatever the number of hands. */
#include "assertions.h"
#include "isthmus/base.h"

#include <stdatomic.h>

#define ITEMS 1000
struct tally {
    atomic_uint times[ITEMS];
    atomic_uint strange_hands;
    unsigned hand_count;
};

static void count_item(size_t item, unsigned hand, void *context)
{
    struct tally *tally = context;
    atomic_fetch_add(&tally->times[item], 1);
    if (hand >= tally->hand_count)
        atomic_fetch_add(&tally->strange_hands, 1);
}

static void every_item_is_worked_on_once(void **state)
{
    (void)state;
    for (unsigned hands = 1; hands <= MOST_HANDS; hands *= 2)
        for (size_t items = 0; items <= ITEMS; items += 333) {
            struct tally tally = {.hand_count = hands};
            hands_work(hands, items, count_item, &tally);
            for (size_t i = 0; i < ITEMS; i++)
                assert_int_equal(tally.times[i], i < items);
            assert_int_equal(tally.strange_hands, 0);
        }
}

static void no_more_hands_than_items(void **state)
{
    (void)state;
    assert_int_equal(hands_for(4, 3), 3);
    assert_int_equal(hands_for(4, 4), 4);
    assert_int_equal(hands_for(1, 1000), 1);
    assert_int_equal(hands_for(7, 0), 1);
    assert_int_equal(hands_for(10000, 10000), MOST_HANDS);
    assert_true(hands_for(0, 10000) >= 1 && hands_for(0, 10000) <= MOST_HANDS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_item_is_worked_on_once),
        cmocka_unit_test(no_more_hands_than_items),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
