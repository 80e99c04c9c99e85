/* Several downloads at once, with a clock of its own: waits take no time here, and are the same each time.
 * The figures of the waits are the project's own: common practice, no source. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "daemon/source/download_all.h"
#include "support/served.h"

#define JOBS_MAX 8

static struct served server, other;
static char folder[512], file_path[sizeof folder + 16];

static int start(void **state) {
    (void)state;
    const char *build = getenv("BUILD");
    (void)snprintf(folder, sizeof folder, "%s/download_all_XXXXXX", build != NULL ? build : "build");
    if (mkdtemp(folder) == NULL)
        return -1;
    (void)snprintf(file_path, sizeof file_path, "%s/days.csv", folder);
    FILE *file = fopen(file_path, "w");
    for (int i = 0; i < 200; i++)
        (void)fprintf(file, "row %d,21.5\n", i);
    (void)fclose(file);
    static struct problems unheard;
    if (download_start(&unheard) != STATUS_OK || served_start(&server, folder) != 0)
        return -1;
    return served_start(&other, folder);
}

static int stop(void **state) {
    (void)state;
    served_stop(&server);
    served_stop(&other);
    download_stop();
    (void)unlink(file_path);
    return rmdir(folder);
}

/* A clock that only goes when someone sleeps, and keeps what was slept. */
struct fake {
    int64_t now, slept;
    int sleeps;
};

static int64_t fake_now(void *context) {
    return ((struct fake *)context)->now;
}

static void fake_sleep(void *context, int64_t ms) {
    struct fake *fake = context;
    fake->now += ms;
    fake->slept += ms;
    fake->sleeps++;
}

/* What was handed over, in the order in which it was. */
struct seen {
    size_t index[JOBS_MAX], size[JOBS_MAX];
    enum status status[JOBS_MAX];
    int tries[JOBS_MAX];
    bool not_modified[JOBS_MAX];
    int count;
    char said[1000];
};

static enum status see(void *context, size_t index, struct download_job *job) {
    struct seen *seen = context;
    int at = seen->count++;
    seen->index[at] = index;
    seen->size[at] = job->got.size;
    seen->status[at] = job->status;
    seen->tries[at] = job->tries;
    seen->not_modified[at] = job->got.not_modified;
    if (job->problems.count > 0)
        (void)snprintf(seen->said, sizeof seen->said, "%s", job->problems.problem[0].message);
    return STATUS_OK;
}

static char address[JOBS_MAX][600];

static struct download_job job_of(int place, const struct served *from, const char *path) {
    struct download_job job;
    memset(&job, 0, sizeof job);
    job.request.address = served_address(from, path, address[place], sizeof address[place]);
    job.interval_s = (double)NAN;
    return job;
}

static struct seen run(struct download_job *jobs, size_t count, struct fake *fake, int tries, uint64_t seed) {
    struct seen seen = {.count = 0};
    const struct download_clock clock = {fake_now, fake_sleep, fake};
    const struct download_policy policy = {.clock = &clock, .seed = seed, .tries = tries};
    assert_int_equal(download_all(jobs, count, &policy, see, &seen), STATUS_OK);
    return seen;
}

static void all_are_handed_over_in_their_order(void **state) {
    (void)state;
    struct fake fake = {0};
    struct download_job jobs[] = {job_of(0, &server, "/slow?file=days.csv"), job_of(1, &other, "/days.csv"),
                                  job_of(2, &server, "/none.csv"), job_of(3, &other, "/gzip?file=days.csv")};
    struct seen seen = run(jobs, 4, &fake, 1, 1);
    assert_int_equal(seen.count, 4);
    for (int i = 0; i < 4; i++)
        assert_int_equal(seen.index[i], i);
    assert_int_equal(seen.status[2], STATUS_NOT_FOUND);
    assert_true(seen.size[0] > 2000 && seen.size[0] == seen.size[1] && seen.size[1] == seen.size[3]);
}

static void hosts_are_asked_beside_each_other(void **state) {
    (void)state;
    struct fake fake = {0};
    struct timespec before, after;
    struct download_job jobs[] = {job_of(0, &server, "/stall"), job_of(1, &other, "/stall")};
    jobs[0].request.timeout_s = jobs[1].request.timeout_s = 2;
    (void)clock_gettime(CLOCK_MONOTONIC, &before);
    struct seen seen = run(jobs, 2, &fake, 1, 1);
    (void)clock_gettime(CLOCK_MONOTONIC, &after);
    assert_int_equal(seen.status[0], STATUS_IO);
    assert_int_equal(seen.status[1], STATUS_IO);
    double seconds = (double)(after.tv_sec - before.tv_sec) + 1e-9 * (double)(after.tv_nsec - before.tv_nsec);
    /* One after the other they would take four. */
    assert_true(seconds < 3.9);
}

static void one_host_is_asked_with_a_pause_between(void **state) {
    (void)state;
    struct fake fake = {.now = 1000};
    struct download_job jobs[] = {job_of(0, &server, "/days.csv"), job_of(1, &server, "/days.csv"),
                                  job_of(2, &server, "/days.csv"), job_of(3, &other, "/days.csv")};
    jobs[1].interval_s = 30.0; /* the longest of a host holds for it */
    struct seen seen = run(jobs, 4, &fake, 1, 1);
    assert_int_equal(seen.count, 4);
    assert_int_equal(fake.slept, 60000);
}

static void this_machine_needs_no_pause(void **state) {
    (void)state;
    struct fake fake = {0};
    struct download_job jobs[] = {job_of(0, &server, "/days.csv"), job_of(1, &server, "/days.csv")};
    (void)run(jobs, 2, &fake, 1, 1);
    assert_int_equal(fake.slept, 0);
}

static void what_may_pass_is_tried_again_after_longer_and_longer_waits(void **state) {
    (void)state;
    struct fake fake = {0}, again = {0}, otherwise = {0};
    struct download_job jobs[] = {job_of(0, &server, "/status/500")};
    struct seen seen = run(jobs, 1, &fake, 4, 7);
    assert_int_equal(seen.tries[0], 4);
    assert_int_equal(seen.status[0], STATUS_IO);
    assert_non_null(strstr(seen.said, "500"));
    /* Of 2, 4 and 8 seconds one half each holds, the other is drawn. */
    assert_true(fake.slept >= 7000 && fake.slept <= 14000);
    jobs[0] = job_of(0, &server, "/status/500");
    (void)run(jobs, 1, &again, 4, 7);
    assert_int_equal(again.slept, fake.slept);
    jobs[0] = job_of(0, &server, "/status/500");
    (void)run(jobs, 1, &otherwise, 4, 8);
    assert_int_not_equal(otherwise.slept, fake.slept);
}

static void what_will_not_pass_is_not_tried_again(void **state) {
    (void)state;
    struct fake fake = {0};
    struct download_job jobs[] = {job_of(0, &server, "/none.csv"), job_of(1, &server, "/status/403"),
                                  job_of(2, &server, "/redirect-file")};
    struct seen seen = run(jobs, 3, &fake, 4, 7);
    for (int i = 0; i < 3; i++)
        assert_int_equal(seen.tries[i], 1);
    assert_int_equal(fake.slept, 0);
}

static void the_server_is_given_the_time_it_asks_for(void **state) {
    (void)state;
    struct fake fake = {0};
    struct download_job jobs[] = {job_of(0, &server, "/status/503")}; /* Retry-After: 7 */
    struct seen seen = run(jobs, 1, &fake, 2, 7);
    assert_int_equal(seen.tries[0], 2);
    assert_int_equal(fake.slept, 7000);
}

static void a_server_that_wants_more_time_than_there_is_is_left_alone(void **state) {
    (void)state;
    struct fake fake = {0};
    struct seen seen = {.count = 0};
    const struct download_clock clock = {fake_now, fake_sleep, &fake};
    const struct download_policy policy = {.clock = &clock, .seed = 1, .wait_longest_ms = 5000};
    struct download_job jobs[] = {job_of(0, &server, "/status/503")};
    assert_int_equal(download_all(jobs, 1, &policy, see, &seen), STATUS_OK);
    assert_int_equal(seen.tries[0], 1);
    assert_int_equal(fake.slept, 0);
}

static void the_waits_double_up_to_the_longest(void **state) {
    (void)state;
    uint64_t random = 42;
    for (int tries = 1; tries < 70; tries++) {
        int64_t whole = tries < 7 ? 1000 << (tries - 1) : 60000;
        whole = whole < 60000 ? whole : 60000;
        for (int i = 0; i < 50; i++) {
            int64_t wait = download_wait_ms(tries, 1000, 60000, &random);
            assert_true(wait >= whole - whole / 2 && wait <= whole);
        }
    }
}

static bool always(void *context) {
    return *(bool *)context;
}

static void it_ends_at_once_when_the_program_is_to_end(void **state) {
    (void)state;
    struct fake fake = {0};
    struct seen seen = {.count = 0};
    bool end = true;
    const struct download_clock clock = {fake_now, fake_sleep, &fake};
    const struct download_policy policy = {.clock = &clock, .seed = 1, .stop = always, .stop_context = &end};
    struct download_job jobs[] = {job_of(0, &server, "/stall"), job_of(1, &server, "/days.csv")};
    assert_int_equal(download_all(jobs, 2, &policy, see, &seen), STATUS_OK);
    assert_int_equal(seen.count, 2);
    assert_int_equal(seen.status[0], STATUS_IO);
    assert_int_equal(seen.status[1], STATUS_IO);
}

static enum status refuse(void *context, size_t index, struct download_job *job) {
    (void)job;
    ++*(int *)context;
    return index == 1 ? STATUS_STORE : STATUS_OK;
}

static void a_taker_that_fails_ends_the_whole(void **state) {
    (void)state;
    struct fake fake = {0};
    int taken = 0;
    const struct download_clock clock = {fake_now, fake_sleep, &fake};
    const struct download_policy policy = {.clock = &clock, .seed = 1};
    struct download_job jobs[] = {job_of(0, &server, "/days.csv"), job_of(1, &server, "/days.csv"),
                                  job_of(2, &server, "/days.csv")};
    assert_int_equal(download_all(jobs, 3, &policy, refuse, &taken), STATUS_STORE);
    assert_int_equal(taken, 2);
}

static void files_of_this_machine_and_no_jobs_at_all_are_fine(void **state) {
    (void)state;
    struct fake fake = {0};
    char path[600];
    struct download_job job = job_of(0, &server, "/days.csv");
    (void)snprintf(path, sizeof path, "file:%s", file_path);
    job.request.address = path;
    job.request.allow_file = true;
    struct seen seen = run(&job, 1, &fake, 4, 1);
    assert_int_equal(seen.status[0], STATUS_OK);
    assert_true(seen.size[0] > 2000);
    assert_int_equal(run(NULL, 0, &fake, 4, 1).count, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_are_handed_over_in_their_order),
        cmocka_unit_test(hosts_are_asked_beside_each_other),
        cmocka_unit_test(one_host_is_asked_with_a_pause_between),
        cmocka_unit_test(this_machine_needs_no_pause),
        cmocka_unit_test(what_may_pass_is_tried_again_after_longer_and_longer_waits),
        cmocka_unit_test(what_will_not_pass_is_not_tried_again),
        cmocka_unit_test(the_server_is_given_the_time_it_asks_for),
        cmocka_unit_test(a_server_that_wants_more_time_than_there_is_is_left_alone),
        cmocka_unit_test(the_waits_double_up_to_the_longest),
        cmocka_unit_test(it_ends_at_once_when_the_program_is_to_end),
        cmocka_unit_test(a_taker_that_fails_ends_the_whole),
        cmocka_unit_test(files_of_this_machine_and_no_jobs_at_all_are_fine),
    };
    return cmocka_run_group_tests(tests, start, stop);
}
