/* From the farm book and what a morning knows of its fields to the problem that the turns solve, for one
 * supply. */
#ifndef WATERTURN_TURNS_PROBLEM_H
#define WATERTURN_TURNS_PROBLEM_H

#include "core/decide/turns.h"
#include "daemon/morning/planting_run.h"
#include "daemon/morning/turns_courses.h"
#include "daemon/morning/turns_supply.h"
#include "daemon/store/turns_store.h"

/* What a morning knows of a field that shares a supply. */
struct turns_case {
    char field_name[FARM_NAME_SIZE], supply[FARM_NAME_SIZE];
    int32_t start_date;                    /* of its planting */
    size_t field, planting;                /* indices of both in the farm of the plan */
    const struct outlook_weather *weather; /* of its station; NULL: no outlook */
    struct turns_courses courses;
    struct outlook_field days; /* of planting_run(); .days 0: it gets no turns */
    struct outlook_prices prices;
    double later_etc_mm;
};

/* When the plan is made, and what it goes by. */
struct turns_ask {
    const struct farm *farm;
    const struct turns_case *cases; /* of all fields of the supply that could be planned */
    size_t case_count;
    const struct stored_turn *turn; /* of the supply, as they stand */
    size_t turn_count;
    int32_t today;
    int first_hour;  /* hours of today that have passed, 0..23 */
    int fields;      /* planned in all, with other supplies': of many, each gets less effort */
    long long moved; /* a turn of these that somebody just moved to a pinned place; 0: none */
    int32_t moved_date;
    int moved_hour;
    bool at_once; /* somebody waits: less effort, and turns that stand stay where a new plan hardly gains */
    const char *about; /* the field of which something else is known now than when its turns were planned:
                          they stay only where they are right by themselves; NULL: none */
    bool quick;        /* no prices are sought */
};

/* A problem with its storage. Pins come from turns under way or late, then from marks. */
struct turns_task {
    struct turns_problem problem;
    struct turns_supply supply;
    bool money;
    const struct turns_case **of_field; /* of each field of the problem */
    struct turns_field *field;
    struct turns_day *day;
    struct turns_pin *pin;
    const struct stored_turn **of_pin; /* the turn that a pin is; NULL: a mark's */
    struct turns_pin *stand;           /* while somebody waits: the turns that stand and may move */
    struct turns_forbid *forbid;
    double under_way_m3; /* that turns under way have drawn already, and nobody has recorded yet */
};

/* Builds it. *reason says why there is none (STATUS_OK all the same). Freed with turns_task_free() whatever
 * is returned. STATUS_NO_MEMORY. */
enum status turns_task_make(const struct turns_ask *ask, const struct farm_supply *supply,
                            struct turns_task *task, enum turns_reason *reason);
void turns_task_free(struct turns_task *task);

/* Whether nothing settles a turn yet: it is planned, or late. */
bool turns_unsettled(const struct stored_turn *turn);

/* Adds pins, hours without turns and what stands to a task whose fields and days stand: from turns, then from
 * marks. */
void turns_word_fill(const struct turns_ask *ask, const struct farm_supply *supply, struct turns_task *task);

#endif
