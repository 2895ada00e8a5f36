/*
 * The writes of a line in cycles: loads of 4, stores of 3 [H MOS programming manual], and 8 for the loop's
 * end. What is found is run here, operation by operation, by a processor of two registers over several lines.
 */
#include "plan/schedule.h"
#include "plan/sketch.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

/* Each store must store its own value of its own row, in its cycle; values are row * 100 + store. */
static void run(const struct wanted_write *wanted, const struct schedule *schedule) {
    int held[SCHEDULE_WAITING] = {-1, -1};
    for (int place = 0; place < schedule->count && place < SCHEDULE_WAITING; place++) {
        held[place] = place;
    }
    for (int row = 0; row < 5; row++) {
        int now = 0, stores = 0;
        for (int i = 0; i < schedule->op_count; i++) {
            const struct schedule_op *op = &schedule->ops[i];
            const int reg = schedule_uses_x(op->store);
            now += op->cycles;
            if (op->kind == SCHEDULE_DELAY) {
                assert_true(op->cycles >= 2); /* no instruction takes one */
            } else if (op->kind == SCHEDULE_READ) {
                assert_int_equal(op->cycles, SCHEDULE_LOAD);
                held[reg] = (row + op->ahead) * 100 + op->store;
            } else {
                const struct placed_write *placed = &schedule->stores[op->store];
                assert_int_equal(held[reg], row * 100 + op->store);
                assert_int_equal(now, placed->cycle);
                assert_int_equal(op->store, stores++);
                const int cycle = placed->cycle - (placed->early ? LINE_CYCLES : 0);
                assert_true(cycle >= wanted[placed->wanted].first && cycle <= wanted[placed->wanted].last);
            }
        }
        assert_int_equal(stores, schedule->count);
        assert_int_equal(now + SCHEDULE_END, schedule->cycles);
        assert_true(schedule->cycles <= LINE_CYCLES);
    }
}

static void test_random(void **state) {
    (void)state;
    const uint64_t runs = getenv("SLOTJIG_TEST_SMALL") != NULL ? 300 : 3000;
    int found = 0;
    for (uint64_t seed = 1; seed <= runs; seed++) {
        uint64_t random = seed;
        struct wanted_write wanted[8];
        struct schedule schedule;
        const int count = 1 + (int)(sketch_random(&random) % 8);
        for (int i = 0; i < count; i++) {
            const int first = (int)(sketch_random(&random) % 90) - 20;
            wanted[i] = (struct wanted_write){REG_PF0, first, first + (int)(sketch_random(&random) % 30)};
        }
        if (schedule_find(wanted, count, &schedule)) {
            assert_int_equal(schedule.count, count);
            run(wanted, &schedule);
            found++;
        }
    }
    print_message("%d of %d found\n", found, (int)runs);
    assert_true(found > (int)runs / 4);
}

static bool fits(const struct wanted_write *wanted, int count, struct schedule *schedule) {
    const bool found = schedule_find(wanted, count, schedule);
    if (found) {
        run(wanted, schedule);
    }
    return found;
}

/* By arithmetic: a store by itself leaves 4 cycles for the next row's load and 8 for the loop's end. */
static void test_limits(void **state) {
    (void)state;
    struct schedule schedule;
    assert_true(fits(&(struct wanted_write){REG_PF2, 64, 64}, 1, &schedule));
    assert_int_equal(schedule.cycles, 76);
    assert_false(fits(&(struct wanted_write){REG_PF2, 65, 65}, 1, &schedule));
    assert_true(fits(&(struct wanted_write){REG_PF2, 3, 3}, 1, &schedule));
    assert_false(fits(&(struct wanted_write){REG_PF2, 2, 2}, 1, &schedule));
    /* Two wait in A and X: 3 and 6; a third is loaded first: 13. */
    struct wanted_write three[] = {{REG_PF0, 0, 3}, {REG_PF1, 0, 6}, {REG_PF2, 0, 13}};
    assert_true(fits(three, 3, &schedule));
    three[2].last = 12;
    assert_false(fits(three, 3, &schedule));
    /* Two loaded beforehand can be stored 3 apart, three cannot. */
    struct wanted_write close[] = {{REG_PF0, 40, 40}, {REG_PF1, 43, 43}, {REG_PF2, 46, 46}};
    assert_true(fits(close, 2, &schedule));
    assert_false(fits(close, 3, &schedule));
    close[2] = (struct wanted_write){REG_PF2, 50, 50};
    assert_true(fits(close, 3, &schedule));
}

/* Eight writes in the handbook's windows, as they come out. */
static void test_all_eight(void **state) {
    (void)state;
    static const struct wanted_write wanted[] = {{REG_COLUBK, 0, 19}, {REG_COLUPF, 0, 19}, {REG_PF0, -20, 19},
                                                 {REG_PF1, -9, 25},   {REG_PF2, 0, 35},    {REG_PF0, 31, 46},
                                                 {REG_PF1, 40, 51},   {REG_PF2, 51, 62}};
    static const int cycles[] = {3, 6, 13, 20, 27, 34, 41, 51};
    struct schedule schedule;
    assert_true(fits(wanted, 8, &schedule));
    for (int i = 0; i < 8; i++) {
        assert_int_equal(schedule.stores[i].wanted, i);
        assert_int_equal(schedule.stores[i].cycle, cycles[i]);
    }
    assert_true(schedule.cycles <= 67);
}

/* One whose window lies in the line before, and one that must wait for its window. */
static void test_before_and_after(void **state) {
    (void)state;
    static const struct wanted_write wanted[] = {{REG_PF0, -20, -10}, {REG_PF1, 30, 40}};
    struct schedule schedule;
    assert_true(fits(wanted, 2, &schedule));
    assert_int_equal(schedule.stores[0].cycle, 30);
    assert_false(schedule.stores[0].early);
    assert_int_equal(schedule.stores[1].wanted, 0);
    assert_int_equal(schedule.stores[1].cycle, 56);
    assert_true(schedule.stores[1].early);
}

static void test_nothing(void **state) {
    (void)state;
    struct schedule schedule;
    assert_true(schedule_find(NULL, 0, &schedule));
    assert_int_equal(schedule.op_count, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_random), cmocka_unit_test(test_limits), cmocka_unit_test(test_all_eight),
        cmocka_unit_test(test_before_and_after), cmocka_unit_test(test_nothing)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
