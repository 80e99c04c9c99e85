#include "daemon/morning/plantings.h"

#include <pthread.h>
#include <stdlib.h>

#include "daemon/base/cores.h"

/* Tasks are numbered as they are given. Those from `released` on are open, those from `claimed` on no thread
 * has begun; number n stands in place n % PLANTINGS_AT_ONCE. */
struct plantings {
    int threads, started;
    pthread_t thread[CORES_MAX];
    pthread_mutex_t lock; /* of what follows, but for what stands in the task itself */
    pthread_cond_t given_one, done_one;
    const struct farm *farm;
    int32_t today;
    size_t released, claimed, given;
    bool done[PLANTINGS_AT_ONCE], ended;
    bool unsaid; /* tasks were given that threads have not been woken for: the caller's thread alone asks */
    int rooms_taken;
    struct outlook_rooms rooms[PLANTINGS_AT_ONCE]; /* of each thread, the caller's first */
    struct planting_task task[PLANTINGS_AT_ONCE];
};

enum status plantings_new(int threads, struct plantings **out) {
    struct plantings *plantings = calloc(1, sizeof *plantings);
    if (plantings == NULL)
        return STATUS_NO_MEMORY;
    (void)pthread_mutex_init(&plantings->lock, NULL);
    (void)pthread_cond_init(&plantings->given_one, NULL);
    (void)pthread_cond_init(&plantings->done_one, NULL);
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
    (void)pthread_mutex_lock(&plantings->lock);
    plantings->ended = true;
    (void)pthread_cond_broadcast(&plantings->given_one);
    (void)pthread_mutex_unlock(&plantings->lock);
    for (int i = 0; i < plantings->started; i++)
        (void)pthread_join(plantings->thread[i], NULL);
    (void)pthread_cond_destroy(&plantings->done_one);
    (void)pthread_cond_destroy(&plantings->given_one);
    (void)pthread_mutex_destroy(&plantings->lock);
    for (int i = 0; i < PLANTINGS_AT_ONCE; i++) {
        outlook_rooms_free(&plantings->rooms[i]);
        planting_run_free(&plantings->task[i].run);
    }
    free(plantings);
}

/* Computes the next task that no thread has begun. The lock is held before and after. */
static void run_next(struct plantings *plantings, struct outlook_rooms *rooms) {
    size_t place = plantings->claimed++ % PLANTINGS_AT_ONCE;
    struct planting_task *task = &plantings->task[place];
    const struct farm *farm = plantings->farm;
    int32_t today = plantings->today;
    (void)pthread_mutex_unlock(&plantings->lock);
    task->run.station_outlook = task->outlook;
    task->run.rooms = rooms;
    task->status = planting_run(farm, &farm->planting[task->planting], task->days, today,
                                planting_until(farm, task->planting), &task->run, &task->problems);
    (void)pthread_mutex_lock(&plantings->lock);
    plantings->done[place] = true;
    (void)pthread_cond_signal(&plantings->done_one); /* the caller's thread alone waits for it */
}

static void *run_all(void *context) {
    struct plantings *plantings = context;
    (void)pthread_mutex_lock(&plantings->lock);
    struct outlook_rooms *rooms = &plantings->rooms[++plantings->rooms_taken];
    while (!plantings->ended) {
        if (plantings->claimed < plantings->given)
            run_next(plantings, rooms);
        else
            (void)pthread_cond_wait(&plantings->given_one, &plantings->lock);
    }
    (void)pthread_mutex_unlock(&plantings->lock);
    return NULL;
}

/* Without hundreds of ways for the weather a planting is done before a thread has been woken. */
static bool is_heavy(const struct planting_task *task) {
    for (int kind = 0; kind < STATION_KINDS; kind++)
        if (task->outlook != NULL && task->outlook->weather[kind].days > 0)
            return true;
    return false;
}

void plantings_begin(struct plantings *plantings, const struct farm *farm, int32_t today) {
    (void)pthread_mutex_lock(&plantings->lock);
    plantings->farm = farm;
    plantings->today = today;
    (void)pthread_mutex_unlock(&plantings->lock);
}

/* Both numbers are changed by the caller's thread alone. */
bool plantings_wanting(const struct plantings *plantings) {
    return plantings->given - plantings->released <= PLANTINGS_AT_ONCE / 2;
}

struct planting_task *plantings_place(struct plantings *plantings) {
    return plantings->given - plantings->released < PLANTINGS_AT_ONCE
               ? &plantings->task[plantings->given % PLANTINGS_AT_ONCE]
               : NULL;
}

void plantings_give(struct plantings *plantings) {
    size_t place = plantings->given % PLANTINGS_AT_ONCE;
    struct planting_task *task = &plantings->task[place];
    problems_init(&task->problems);
    plantings->unsaid = plantings->unsaid || is_heavy(task);
    (void)pthread_mutex_lock(&plantings->lock);
    plantings->done[place] = false;
    plantings->given++;
    (void)pthread_mutex_unlock(&plantings->lock);
}

/* Threads are woken once for all tasks that were given: a thread that is woken may take the caller's place on
 * its core. They begin where there is something for them. */
static void wake_threads(struct plantings *plantings) {
    plantings->unsaid = false;
    (void)pthread_cond_broadcast(&plantings->given_one);
    if (plantings->started == 0 && plantings->given - plantings->released > 1)
        plantings->started = cores_start(plantings->thread, plantings->threads - 1, run_all, plantings);
}

struct planting_task *plantings_take(struct plantings *plantings) {
    size_t place = plantings->released % PLANTINGS_AT_ONCE;
    if (plantings->unsaid)
        wake_threads(plantings);
    (void)pthread_mutex_lock(&plantings->lock);
    while (!plantings->done[place]) {
        if (plantings->claimed < plantings->given)
            run_next(plantings, &plantings->rooms[0]);
        else
            (void)pthread_cond_wait(&plantings->done_one, &plantings->lock);
    }
    (void)pthread_mutex_unlock(&plantings->lock);
    return &plantings->task[place];
}

void plantings_release(struct plantings *plantings) {
    plantings->released++;
}

void plantings_drop(struct plantings *plantings) {
    (void)pthread_mutex_lock(&plantings->lock);
    for (; plantings->claimed < plantings->given; plantings->given--)
        problems_free(&plantings->task[(plantings->given - 1) % PLANTINGS_AT_ONCE].problems);
    (void)pthread_mutex_unlock(&plantings->lock);
    for (; plantings->released < plantings->given; plantings_release(plantings))
        problems_free(&plantings_take(plantings)->problems);
}
