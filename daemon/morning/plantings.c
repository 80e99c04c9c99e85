#include "daemon/morning/plantings.h"

#include <stdlib.h>

#include "daemon/base/cores.h"

struct plantings {
    int threads;
    struct outlook_rooms rooms[PLANTINGS_AT_ONCE]; /* of each thread */
    struct planting_task task[PLANTINGS_AT_ONCE];
};

enum status plantings_new(int threads, struct plantings **out) {
    struct plantings *plantings = calloc(1, sizeof *plantings);
    if (plantings == NULL)
        return STATUS_NO_MEMORY;
    threads = threads > 0 ? threads : cores_count();
    plantings->threads = threads < PLANTINGS_AT_ONCE ? threads : PLANTINGS_AT_ONCE;
    enum status status = STATUS_OK;
    for (int i = 0; status == STATUS_OK && i < plantings->threads; i++)
        status = outlook_rooms_open(&plantings->rooms[i]);
    if (status == STATUS_OK)
        *out = plantings;
    else
        plantings_free(plantings);
    return status;
}

void plantings_free(struct plantings *plantings) {
    if (plantings == NULL)
        return;
    for (int i = 0; i < PLANTINGS_AT_ONCE; i++) {
        outlook_rooms_free(&plantings->rooms[i]);
        planting_run_free(&plantings->task[i].run);
    }
    free(plantings);
}

struct planting_task *plantings_task(struct plantings *plantings, size_t index) {
    return &plantings->task[index];
}

/* What the threads of one call share. */
struct share {
    struct plantings *plantings;
    const struct farm *farm;
    int32_t today;
    size_t count;
    int threads;
};

static void run_task(const struct share *share, struct planting_task *task, struct outlook_rooms *rooms) {
    problems_init(&task->problems);
    task->run.station_outlook = task->outlook;
    task->run.rooms = rooms;
    task->status = planting_run(share->farm, &share->farm->planting[task->planting], task->days, share->today,
                                planting_until(share->farm, task->planting), &task->run, &task->problems);
}

/* A thread's own: every so many-th task. */
static void run_some(void *context, long thread) {
    struct share *share = context;
    for (size_t i = (size_t)thread; i < share->count; i += (size_t)share->threads)
        run_task(share, &share->plantings->task[i], &share->plantings->rooms[thread]);
}

/* Without hundreds of ways for the weather a planting is done before a thread has started. */
static bool is_heavy(const struct plantings *plantings, size_t count) {
    for (size_t i = 0; i < count; i++)
        for (int kind = 0; kind < STATION_KINDS; kind++)
            if (plantings->task[i].outlook != NULL && plantings->task[i].outlook->weather[kind].days > 0)
                return count > 1;
    return false;
}

void plantings_run(struct plantings *plantings, const struct farm *farm, int32_t today, size_t count) {
    struct share share = {plantings, farm, today, count, 1};
    if (is_heavy(plantings, count))
        share.threads = plantings->threads < (int)count ? plantings->threads : (int)count;
    cores_share(share.threads, share.threads, run_some, &share);
}
