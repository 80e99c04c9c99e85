/* Prices of a supply's flow, places and allotments, by column generation: a linear program (GLPK) mixes the
 * courses of turns found so far under what the supply has each day; its dual values are the prices at which
 * turns_price_field() looks for cheaper ones. At any prices the fields' cheapest courses give a bound. */
#include "core/decide/turns_bound.h"

#include <glpk.h>
#include <math.h>
#include <string.h>

/* Columns kept for each field. */
#define COLUMNS_PER_FIELD 96
/* Each round adds one column to a field; the plan at the start, the dry course, and two rounds that are made
 * all the same come on top. */
#define ROUNDS_MAX (COLUMNS_PER_FIELD - 4)
/* A share of the cost that is not worth another round. */
#define CLOSE 1e-3
/* Rounds one after the other without a gain before the prices count as found, with coarse courses and with
 * all. */
#define PATIENCE_COARSE 3
#define PATIENCE        3

struct turns_bound_space {
    struct turns_layer *layer;
    struct turns_reach *reach; /* by field */
    struct turns_column *column;
    int column_count;
    double *mix; /* share of each column in the last linear program */
    /* one supply */
    int count;   /* fields */
    int at_once; /* turns that can run at once, by places and flow */
    bool by_volume, by_run, by_place;
    int hours[TURNS_DAYS_MAX];       /* it can run on a day */
    int place_hours[TURNS_DAYS_MAX]; /* open hours of the day, closed ones that a set-up may take, and those
                                        that come twice once more */
    double pinned_m3[TURNS_DAYS_MAX], pinned_run[TURNS_DAYS_MAX], pinned_place[TURNS_DAYS_MAX];
    glp_prob *program;
    int volume_row, run_row, place_row, season_row, period_row; /* of day 0 or period 0; 0: none */
    struct turns_prices prices, best_prices;
    bool priced; /* best_prices hold */
};

size_t turns_bound_size(const struct turns_problem *problem) {
    size_t fields = (size_t)problem->field_count, columns = fields * COLUMNS_PER_FIELD;
    return sizeof(struct turns_bound_space) + fields * sizeof(struct turns_reach) +
           columns * (sizeof(struct turns_column) + sizeof(double)) + turns_price_size() + 256;
}

static size_t even(size_t bytes) {
    return (bytes + 15) / 16 * 16;
}

struct turns_bound_space *turns_bound_lay_out(void *block, const struct turns_problem *problem) {
    if (block == NULL)
        return NULL;
    size_t fields = (size_t)problem->field_count, columns = fields * COLUMNS_PER_FIELD;
    struct turns_bound_space *space = block;
    char *next = (char *)block + even(sizeof *space);
    memset(space, 0, sizeof *space);
    space->mix = (double *)(void *)next;
    next += even(columns * sizeof(double));
    space->reach = (struct turns_reach *)(void *)next;
    next += even(fields * sizeof(struct turns_reach));
    space->column = (struct turns_column *)(void *)next;
    next += even(columns * sizeof(struct turns_column));
    space->layer = (struct turns_layer *)(void *)next;
    return space;
}

/* ---- what the supply has */
/* The most turns of the supply's fields that its flow carries at once. */
static int flow_carries(const struct turns_work *work) {
    int count = 0;
    double sum = 0, last = 0;
    for (int taken = 0;; taken++) {
        /* the smallest flow above the last one taken, equal ones one by one in the order of the list */
        double next = INFINITY;
        int equal = 0;
        for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++) {
            const struct turns_model_field *model = &work->field[work->member[i]];
            if (model->longest == 0 || model->field->flow_m3_h <= last)
                continue;
            equal = model->field->flow_m3_h < next ? 1 : equal + (model->field->flow_m3_h == next);
            next = fmin(next, model->field->flow_m3_h);
        }
        if (equal == 0)
            return count;
        double flow = work->problem->supply[work->supply].flow_m3_h * (1 + 2 * TURNS_SLACK);
        for (int k = 0; k < equal; k++, count++) {
            sum += next;
            if (sum > flow)
                return count;
        }
        last = next;
    }
}

int turns_bound_at_once(const struct turns_work *work) {
    int carried = flow_carries(work), users = work->problem->supply[work->supply].users;
    return carried < users ? carried : users;
}

/* Closed hours of day d's places. */
static int closed_hours(const struct turns_work *work, int day, int setup) {
    int count = 0;
    for (int t = 24 * day; t < 24 * day + 24; t++)
        count += work->pins_board.open[t] ? turns_closed_before(work, t, setup) : 0;
    return count;
}

/* What a set-up has more of on day d than the clock shows. */
static int hours_twice(const struct turns_work *work, int day) {
    int count = 0;
    for (int h = 0; h < 24; h++)
        count += (int)(work->pins_board.supply->twice[day] >> h & 1);
    return count;
}

static void take_stock(struct turns_work *work) {
    struct turns_bound_space *space = work->bound;
    const struct turns_board *board = &work->pins_board;
    const struct turns_supply *supply = board->supply;
    int setup = 0;
    space->count = work->first[work->supply + 1] - work->first[work->supply];
    space->at_once = turns_bound_at_once(work);
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++)
        setup = turns_most(setup, work->problem->field[work->member[i]].setup_hours);
    for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++)
        turns_price_reach(work, work->member[i], setup, &space->reach[work->member[i]]);
    space->by_run = space->at_once < space->count || space->count == 1;
    space->by_volume = space->at_once > 1;
    space->by_place = setup > 0 && supply->users < space->count + work->pinned_count;
    for (int d = 0; d < work->problem->days; d++) {
        int open = 0;
        space->pinned_m3[d] = space->pinned_run[d] = space->pinned_place[d] = 0;
        for (int t = 24 * d; t < 24 * d + 24; t++) {
            open += board->open[t];
            space->pinned_m3[d] += board->drawn[t];
            space->pinned_run[d] += board->running[t];
            space->pinned_place[d] += board->open[t] ? board->held[t] : 0;
        }
        space->place_hours[d] = open + closed_hours(work, d, setup) + hours_twice(work, d);
        space->hours[d] = turns_board_hours(board, d);
    }
}

/* ---- the linear program */
static int add_rows(glp_prob *program, int count) {
    return count > 0 ? glp_add_rows(program, count) : 0;
}

static void set_rows(struct turns_work *work) {
    struct turns_bound_space *space = work->bound;
    const struct turns_supply *supply = work->pins_board.supply;
    int days = work->problem->days;
    for (int d = 0; d < days; d++) {
        if (space->by_volume)
            glp_set_row_bnds(space->program, space->volume_row + d, GLP_UP, 0, -space->pinned_m3[d]);
        if (space->by_run)
            glp_set_row_bnds(space->program, space->run_row + d, GLP_UP, 0, -space->pinned_run[d]);
        if (space->by_place)
            glp_set_row_bnds(space->program, space->place_row + d, GLP_UP, 0,
                             supply->users * space->place_hours[d] - space->pinned_place[d]);
    }
    if (space->season_row > 0)
        glp_set_row_bnds(space->program, space->season_row, GLP_UP, 0,
                         fmax(supply->season_left_m3 - work->pins_board.season_m3, 0));
    for (int p = 0; p < supply->period_count; p++)
        glp_set_row_bnds(space->program, space->period_row + p, GLP_UP, 0,
                         fmax(supply->period[p].left_m3 - work->pins_board.period_m3[p], 0));
}

/* One row for each field (its courses add up to 1), and the supply's; a column for its hours of each day. */
static void make_program(struct turns_work *work) {
    struct turns_bound_space *space = work->bound;
    const struct turns_supply *supply = work->pins_board.supply;
    int days = work->problem->days;
    space->program = glp_create_prob();
    glp_set_obj_dir(space->program, GLP_MIN);
    glp_add_rows(space->program, space->count);
    for (int i = 1; i <= space->count; i++)
        glp_set_row_bnds(space->program, i, GLP_FX, 1, 1);
    space->volume_row = add_rows(space->program, space->by_volume ? days : 0);
    space->run_row = add_rows(space->program, space->by_run ? days : 0);
    space->place_row = add_rows(space->program, space->by_place ? days : 0);
    space->season_row = add_rows(space->program, isnan(supply->season_left_m3) ? 0 : 1);
    space->period_row = add_rows(space->program, supply->period_count);
    set_rows(work);
    for (int d = 0; d < days; d++) {
        int column = glp_add_cols(space->program, 1), rows[3], count = 0;
        double factor[3];
        glp_set_col_bnds(space->program, column, space->hours[d] > 0 ? GLP_DB : GLP_FX, 0, space->hours[d]);
        glp_set_obj_coef(space->program, column, supply->hour_cost);
        if (space->by_volume) {
            rows[++count] = space->volume_row + d;
            factor[count] = -supply->flow_m3_h;
        }
        if (space->by_run) {
            rows[++count] = space->run_row + d;
            factor[count] = -space->at_once;
        }
        glp_set_mat_col(space->program, column, count, rows, factor);
    }
}

struct entries {
    int row[4 * TURNS_DAYS_MAX + TURNS_PERIODS_MAX + 3];
    double value[4 * TURNS_DAYS_MAX + TURNS_PERIODS_MAX + 3];
    int count;
};

static void enter(struct entries *entries, int row, double value) {
    if (value == 0)
        return;
    entries->count++;
    entries->row[entries->count] = row;
    entries->value[entries->count] = value;
}

/* The place hours that a column's set-up takes on a day, as pricing takes them. */
static double setup_on(const struct turns_work *work, const struct turns_column *column, int day) {
    int starts = 0;
    for (int i = 0; i < column->count; i++)
        starts += column->span[i].set_up == day;
    return starts * work->problem->field[column->field].setup_hours;
}

/* Money of a column without prices. */
static double column_cost(const struct turns_work *work, const struct turns_column *column,
                          uint8_t hours[TURNS_DAYS_MAX], uint8_t held[TURNS_DAYS_MAX]) {
    uint8_t all[TURNS_DAYS_MAX];
    turns_column_hours(&work->bound->reach[column->field], column, hours, held);
    for (int d = 0; d < TURNS_DAYS_MAX; d++)
        all[d] = (uint8_t)(hours[d] + work->field[column->field].pinned[d]);
    return turns_model_cost(work, column->field, all);
}

static void add_column(struct turns_work *work, int local, const struct turns_column *column) {
    struct turns_bound_space *space = work->bound;
    const struct turns_supply *supply = work->pins_board.supply;
    struct entries entries = {.count = 0};
    uint8_t hours[TURNS_DAYS_MAX], held[TURNS_DAYS_MAX];
    double cost = column_cost(work, column, hours, held), all = 0;
    double flow = work->problem->field[column->field].flow_m3_h, in_period[TURNS_PERIODS_MAX] = {0};
    enter(&entries, 1 + local, 1);
    for (int d = 0; d < work->problem->days; d++) {
        if (space->by_volume)
            enter(&entries, space->volume_row + d, hours[d] * flow);
        if (space->by_run)
            enter(&entries, space->run_row + d, hours[d]);
        if (space->by_place)
            enter(&entries, space->place_row + d, hours[d] + held[d] + setup_on(work, column, d));
        all += hours[d];
        for (int p = 0; p < supply->period_count; p++)
            if (d >= supply->period[p].first_day && d <= supply->period[p].last_day)
                in_period[p] += hours[d] * flow;
    }
    if (space->season_row > 0)
        enter(&entries, space->season_row, all * flow);
    for (int p = 0; p < supply->period_count; p++)
        enter(&entries, space->period_row + p, in_period[p]);
    int at = glp_add_cols(space->program, 1);
    glp_set_col_bnds(space->program, at, GLP_LO, 0, 0);
    glp_set_obj_coef(space->program, at, cost);
    glp_set_mat_col(space->program, at, entries.count, entries.row, entries.value);
    space->column[space->column_count++] = *column;
}

/* Adds the turns of `list`, by field. */
static void add_list(struct turns_work *work, const struct turns_list *list) {
    for (int i = 0; i < work->bound->count; i++) {
        struct turns_column column = {.field = work->member[work->first[work->supply] + i]};
        for (int j = 0; j < list->count; j++) {
            const struct turns_job *job = &list->job[j];
            if (job->field != column.field)
                continue;
            struct turns_walk walk;
            struct turns_job copy = *job;
            turns_walk_job(&walk, work, &work->pins_board, &copy);
            column.span[column.count++] = (struct turns_span){.day = (uint8_t)(job->start / 24),
                                                              .first = walk.by_day[job->start / 24],
                                                              .set_up = (uint8_t)(job->start / 24),
                                                              .hours = job->hours};
        }
        add_column(work, i, &column);
    }
}

static double price_of(struct turns_bound_space *space, int row) {
    return row > 0 ? fmax(-glp_get_row_dual(space->program, row), 0) : 0;
}

/* Solves the program, reads the prices and returns its value. Should the solver give up, the prices are those
 * where it stood: any will do for a bound. */
static double solve(struct turns_work *work) {
    struct turns_bound_space *space = work->bound;
    glp_smcp control;
    glp_init_smcp(&control);
    control.msg_lev = GLP_MSG_OFF;
    glp_simplex(space->program, &control);
    struct turns_prices *prices = &space->prices;
    memset(prices, 0, sizeof *prices);
    for (int d = 0; d < work->problem->days; d++) {
        prices->volume[d] = price_of(space, space->by_volume ? space->volume_row + d : 0);
        prices->run[d] = price_of(space, space->by_run ? space->run_row + d : 0);
        prices->place[d] = price_of(space, space->by_place ? space->place_row + d : 0);
    }
    prices->season = price_of(space, space->season_row);
    for (int p = 0; p < work->pins_board.supply->period_count; p++)
        prices->period[p] = price_of(space, space->period_row + p);
    for (int j = 0; j < space->column_count; j++)
        space->mix[j] = glp_get_col_prim(space->program, work->problem->days + 1 + j);
    return glp_get_obj_val(space->program);
}

/* ---- the bound */

/* What the supply's own part adds to the bound at these prices. */
static double supply_part(const struct turns_work *work, const struct turns_prices *prices) {
    const struct turns_bound_space *space = work->bound;
    const struct turns_supply *supply = work->pins_board.supply;
    double sum = 0;
    for (int d = 0; d < work->problem->days; d++) {
        double hour =
            supply->hour_cost - supply->flow_m3_h * prices->volume[d] - space->at_once * prices->run[d];
        sum += space->hours[d] * fmin(hour, 0);
        sum += prices->volume[d] * space->pinned_m3[d] + prices->run[d] * space->pinned_run[d];
        sum += prices->place[d] * (space->pinned_place[d] - supply->users * space->place_hours[d]);
    }
    if (!isnan(supply->season_left_m3))
        sum -= prices->season * fmax(supply->season_left_m3 - work->pins_board.season_m3, 0);
    for (int p = 0; p < supply->period_count; p++)
        sum -= prices->period[p] * fmax(supply->period[p].left_m3 - work->pins_board.period_m3[p], 0);
    return sum;
}

static void blend_lists(double *to, const double *old, const double *now, int count, double share) {
    for (int i = 0; i < count; i++)
        to[i] = (1 - share) * old[i] + share * now[i];
}

/* From the best prices so far a share of the way to the program's: they swing less (P. Wentges, Weighted
 * Dantzig-Wolfe decomposition for linear mixed-integer programming, Int. Trans. Oper. Res. 4, 1997; from
 * memory). */
static struct turns_prices blend(const struct turns_prices *old, const struct turns_prices *now,
                                 double share) {
    struct turns_prices prices;
    blend_lists(prices.volume, old->volume, now->volume, TURNS_DAYS_MAX, share);
    blend_lists(prices.run, old->run, now->run, TURNS_DAYS_MAX, share);
    blend_lists(prices.place, old->place, now->place, TURNS_DAYS_MAX, share);
    blend_lists(prices.period, old->period, now->period, TURNS_PERIODS_MAX, share);
    blend_lists(&prices.season, &old->season, &now->season, 1, share);
    return prices;
}

/* Every field's cheapest course at these prices, added to the program. The bound that they give; with stride
 * above 1 it is none. */
static double price_all(struct turns_work *work, const struct turns_prices *prices, int stride) {
    struct turns_bound_space *space = work->bound;
    double sum = supply_part(work, prices);
    for (int i = 0; i < space->count; i++) {
        int field = work->member[work->first[work->supply] + i];
        struct turns_column column;
        sum += turns_price_field(work, field, prices, &space->reach[field], stride, space->layer, &column);
        add_column(work, i, &column);
    }
    return sum;
}

/* Rounds of prices with one stride until they bring little. Returns the best bound. */
static double rounds(struct turns_work *work, int stride, int *left) {
    struct turns_bound_space *space = work->bound;
    double best = -INFINITY, share = 0.5;
    int most = stride > 1 ? PATIENCE_COARSE : PATIENCE, patience = most;
    for (; *left > 0 && patience > 0; (*left)--) {
        double value = solve(work);
        if (fmin(value, work->best.cost) - best <= CLOSE * fabs(value))
            break;
        struct turns_prices prices =
            space->priced ? blend(&space->best_prices, &space->prices, share) : space->prices;
        double bound = price_all(work, &prices, stride);
        bool gained = best == -INFINITY || bound > best + CLOSE * fabs(best);
        patience = gained ? most : patience - 1;
        share = gained ? 0.5 : share / 2;
        if (bound > best) {
            space->best_prices = prices;
            space->priced = true;
            best = bound;
        }
    }
    return best;
}

double turns_bound_run(struct turns_work *work) {
    struct turns_bound_space *space = work->bound;
    struct turns_prices none;
    memset(&none, 0, sizeof none);
    space->column_count = 0;
    space->priced = false;
    take_stock(work);
    glp_term_out(GLP_OFF);
    make_program(work);
    struct turns_list nothing = {.count = 0};
    add_list(work, &nothing);
    add_list(work, &work->best);
    int left = turns_least(work->problem->effort.rounds, ROUNDS_MAX);
    /* Coarse courses are enough to find about the right prices. */
    rounds(work, 4, &left);
    left = left < 1 && work->problem->effort.rounds > 0 ? 1 : left;
    double bound = rounds(work, 1, &left);
    if (bound == -INFINITY)
        bound = price_all(work, &none, 1);
    solve(work);
    glp_delete_prob(space->program);
    space->program = NULL;
    return bound;
}

void turns_bound_floors(const struct turns_work *work, struct turns_floors *floors) {
    const struct turns_bound_space *space = work->bound;
    struct turns_prices none, prices;
    struct turns_column column;
    memset(&none, 0, sizeof none);
    prices = space->priced ? space->best_prices : none;
    floors->supply_part = supply_part(work, &prices);
    for (int i = 0; i < space->count; i++) {
        int field = work->member[work->first[work->supply] + i];
        const struct turns_reach *reach = &space->reach[field];
        floors->free[i] = turns_price_field(work, field, &none, reach, 1, space->layer, &column);
        floors->priced[i] = turns_price_field(work, field, &prices, reach, 1, space->layer, &column);
        for (int d = 0; d < work->problem->days; d++) {
            floors->hour_price[i][d] = turns_price_hour(work, field, &prices, d);
            floors->start_price[i][d] = prices.place[turns_price_setup_day(reach, &prices, d)] *
                                        work->problem->field[field].setup_hours;
        }
    }
}

/* ---- plans from the linear program */

/* The column of a field at which the shares of its columns, added up, pass `share`; the largest for a
 * negative one. */
static int chosen(const struct turns_bound_space *space, int field, double share) {
    int largest = -1;
    double sum = 0;
    for (int j = 0; j < space->column_count; j++) {
        if (space->column[j].field != field)
            continue;
        sum += space->mix[j];
        if (share >= 0 && sum > share)
            return j;
        if (largest < 0 || space->mix[j] > space->mix[largest])
            largest = j;
    }
    return largest;
}

/* The latest hour of the span's day from which so many hours run until midnight; its begin for a turn that
 * ends on the day. */
static int release_of(const struct turns_work *work, const struct turns_span *span) {
    int t = 24 * span->day;
    if (span->hours > span->first) {
        int left = span->first;
        for (t += 24; left > 0;)
            left -= work->pins_board.open[--t];
    }
    return t < work->problem->first_hour ? work->problem->first_hour : t;
}

static void list_column(struct turns_work *work, const struct turns_column *column, struct turns_list *list) {
    for (int i = 0; i < column->count; i++) {
        struct turns_job job = {.field = column->field,
                                .hours = column->span[i].hours,
                                .release = (int16_t)release_of(work, &column->span[i]),
                                .pin = -1};
        int at = list->count++;
        for (; at > 0 && list->job[at - 1].release > job.release; at--)
            list->job[at] = list->job[at - 1];
        list->job[at] = job;
    }
}

void turns_bound_guide(struct turns_work *work, int plans) {
    for (int k = 0; k < plans; k++) {
        work->order.count = 0;
        for (int i = work->first[work->supply]; i < work->first[work->supply + 1]; i++) {
            double share = k == 0 ? -1 : turns_random_below(work, 1 << 20) / (double)(1 << 20);
            int j = chosen(work->bound, work->member[i], share);
            list_column(work, &work->bound->column[j], &work->order);
        }
        turns_search_decode(work, &work->order);
    }
}
