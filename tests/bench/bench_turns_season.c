/* A dry season under a well that gives 60 % of what its fields need at their peak: each morning ten days are
 * planned with the forecast of that morning, the day's turns are carried out, the day comes as it came, and
 * so on to the last harvest; by the planner and by the simple rules. Real days of Seattle with forecasts made
 * up for them. Fails when the planner's yield does not beat first come first served. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/balance/yield.h"
#include "daemon/farm/library.h"
#include "tests/support/past_years.h"
#include "tests/support/turns_cases.h"
#include "tests/support/turns_checker.h"

#define DAYS       10
#define FIELDS     8
#define SHARE      0.6 /* of the peak need */
#define PLANNER    TURNS_RULE_COUNT
#define WATER_COST 0.05
#define HOUR_COST  8.0

/* Invented fields; values are of the yield without stress, money per m2. */
static const struct {
    const char *crop, *texture;
    int month, day;
    double area_m2, root_max_m, value_m2;
} fields[FIELDS] = {
    {"maize, grain", "silt loam", 4, 25, 180000, 1.0, 0.20},
    {"potato", "sandy loam", 4, 20, 120000, 0.5, 0.60},
    {"soybean", "loam", 5, 15, 160000, 0.7, 0.14},
    {"sugar beet", "silt loam", 4, 10, 150000, 0.9, 0.28},
    {"bean, dry", "loam", 5, 25, 110000, 0.7, 0.18},
    {"onion, dry", "sandy loam", 4, 15, 60000, 0.4, 0.80},
    {"sunflower", "clay loam", 5, 5, 170000, 1.1, 0.10},
    {"maize, sweet", "sandy loam", 5, 20, 90000, 0.8, 0.35},
};

struct season {
    struct past_years *years;
    struct season_setup setup[FIELDS];
    struct season_prepared prepared[FIELDS];
    int first[FIELDS], days[FIELDS]; /* of the years' days */
    double etc_season_mm[FIELDS];    /* as the year before had it */
    int begin, end;
    double flow_m3_h;
};

struct outcome {
    double relative[FIELDS], share, by_value; /* yield; of all fields by area, and by what they are worth */
    double water_m3, hours, money;
};

static void give_up(const char *what) {
    fprintf(stderr, "bench_turns_season: %s\n", what);
    exit(1);
}

static void step(const struct season *season, int i, struct season_state *state,
                 const struct season_input *day, double net_mm, struct season_day *out) {
    struct season_input input = *day;
    input.irrigation_net_mm = net_mm;
    input.irrigation_gross_mm = net_mm / 0.8;
    if (season_step(&season->prepared[i], state, &input, out) != STATUS_OK)
        give_up("a day that the balance refuses");
}

/* ---- the season, and what it needs without stress */
static void add_need(struct season *season, int i, int first, double *need_m3) {
    struct season_state state;
    struct season_setup setup = season->setup[i];
    setup.first_date = setup.planting_date = season->years->first + first;
    struct season own = *season;
    if (season_prepare(&setup, &own.prepared[i]) != STATUS_OK ||
        season_begin(&own.prepared[i], &state) != STATUS_OK)
        give_up(fields[i].crop);
    season->etc_season_mm[i] = 0;
    for (int d = 0; d < season->days[i]; d++) {
        struct season_day day;
        /* Filled up each morning, so that there is never stress. */
        step(&own, i, &state, &season->years->day[first + d], state.root_zone.depletion_mm, &day);
        season->etc_season_mm[i] += day.etc_mm;
        if (need_m3 != NULL)
            need_m3[first - season->begin + d] += day.irrigation_gross_mm * fields[i].area_m2 / 1000;
    }
}

static void open_season(struct season *season, struct past_years *years, int year) {
    static struct problems problems;
    static double need_m3[400];
    struct library *library = NULL;
    memset(season, 0, sizeof *season);
    memset(need_m3, 0, sizeof need_m3);
    season->years = years;
    season->begin = years->count;
    if (library_open(&library, &problems) != STATUS_OK)
        give_up("no library");
    for (int i = 0; i < FIELDS; i++) {
        struct season_setup *setup = &season->setup[i];
        int32_t planted = 0;
        *setup = season_setup_default();
        if (library_crop(library, fields[i].crop, "", &setup->crop) != STATUS_OK ||
            library_soil(library, fields[i].texture, &setup->soil) != STATUS_OK ||
            calendar_from_civil(year, fields[i].month, fields[i].day, &planted) != STATUS_OK)
            give_up(fields[i].crop);
        setup->crop.root_max_m = fields[i].root_max_m;
        setup->first_date = setup->planting_date = planted;
        setup->start_depletion = 0.1;
        setup->start_surface = 0.5;
        if (season_prepare(setup, &season->prepared[i]) != STATUS_OK)
            give_up(fields[i].crop);
        season->first[i] = planted - years->first;
        for (int k = 0; k < CROP_GROWING_STAGES; k++)
            season->days[i] += (int)setup->crop.stage_days[k];
        season->begin = season->first[i] < season->begin ? season->first[i] : season->begin;
        int end = season->first[i] + season->days[i];
        season->end = end > season->end ? end : season->end;
    }
    library_free(library);
    for (int i = 0; i < FIELDS; i++) {
        add_need(season, i, season->first[i], need_m3);
        add_need(season, i, season->first[i] - 365, NULL);
    }
    double peak_m3 = 0;
    for (int d = 0; d + DAYS <= season->end - season->begin; d++) {
        double sum = 0;
        for (int k = 0; k < DAYS; k++)
            sum += need_m3[d + k] / DAYS;
        peak_m3 = fmax(peak_m3, sum);
    }
    season->flow_m3_h = SHARE * peak_m3 / 24;
}

/* ---- a morning */
static void set_field(const struct season *season, int i, int today, const struct season_input *forecast,
                      const struct season_state *morning, struct turns_case *it, int index) {
    struct turns_field *field = &it->field[index];
    struct season_state state = *morning;
    double lost_mm = fields[i].value_m2 * season->setup[i].crop.ky_season / season->etc_season_mm[i];
    struct season_day day;
    *field = (struct turns_field){.area_m2 = fields[i].area_m2,
                                  .efficiency = 0.8,
                                  .flow_m3_h = season->flow_m3_h,
                                  .net_min_mm = 5,
                                  .net_max_mm = 30,
                                  .run_min_hours = 1,
                                  .run_max_hours = 96,
                                  .may_pause = true,
                                  .depletion_mm = state.root_zone.depletion_mm,
                                  .value_m2 = fields[i].value_m2,
                                  .day = &it->day[index * DAYS]};
    int left = season->first[i] + season->days[i] - today;
    /* While water is short, half of what a mm of missed ETc costs; near harvest what is left has no use. */
    field->end_worth_m3 = left > DAYS ? 0.5 * 1000 * lost_mm : 0;
    for (int d = 0; d < DAYS; d++) {
        step(season, i, &state, &forecast[d], 0, &day);
        double raw_mm = fmin(day.raw_mm, 0.95 * day.taw_mm);
        it->day[index * DAYS + d] =
            (struct turns_day){.etc_mm = d < left ? day.etc_mm : 0,
                               .inflow_mm = day.rain_mm - day.runoff_mm + day.capillary_mm - day.new_soil_mm,
                               .taw_mm = day.taw_mm,
                               .raw_mm = raw_mm,
                               .allowed_mm = raw_mm,
                               .ky = season->setup[i].crop.ky_season,
                               .etc_stage_mm = season->etc_season_mm[i]};
    }
}

struct farm {
    struct season_state state[FIELDS];
    struct yield_water water[FIELDS];
    int rest[FIELDS];  /* hours of a turn that goes on this morning */
    int since[FIELDS]; /* 1 + the day on which it joined the queue of those that wait for water; 0 */
};

/* The fields in the order in which they came: turns_by_rule() begins its queue anew each morning, and of
 * those who come together the first of the list goes first. */
static void queue(const struct farm *farm, int order[FIELDS]) {
    for (int i = 0; i < FIELDS; i++) {
        int at = i;
        for (; at > 0 && farm->since[i] > 0; at--) {
            int before = farm->since[order[at - 1]];
            if (before > 0 && before <= farm->since[i])
                break;
            order[at] = order[at - 1];
        }
        order[at] = i;
    }
}

static void note_waiting(struct farm *farm, const struct turns_field *field, int i, int today, int hours) {
    const struct turns_day *day = field->day;
    bool called = field->depletion_mm - day->inflow_mm + day->etc_mm > day->allowed_mm;
    if (hours > 0)
        farm->since[i] = 0;
    else if (farm->since[i] == 0 && called)
        farm->since[i] = today + 1;
}

static void morning(const struct season *season, int today, int how, struct turns_case *it, struct farm *farm,
                    int hours[FIELDS]) {
    int list[FIELDS], order[FIELDS];
    struct season_input forecast[DAYS];
    case_empty(it, 0);
    it->problem.days = DAYS;
    it->problem.supply_count = 1;
    it->supply[0] = (struct turns_supply){.flow_m3_h = season->flow_m3_h,
                                          .users = 1,
                                          .hours_per_day = 24,
                                          .season_left_m3 = NAN,
                                          .water_cost_m3 = WATER_COST,
                                          .hour_cost = HOUR_COST};
    for (int d = 0; d < DAYS; d++)
        it->supply[0].open[d] = turns_open_hours(0, 24);
    if (!past_years_forecast(season->years, season->years->first + today, DAYS, forecast))
        give_up("no forecast");
    queue(farm, order);
    for (int k = 0; k < FIELDS; k++) {
        int i = order[k];
        if (today < season->first[i] || today >= season->first[i] + season->days[i])
            continue;
        int index = it->problem.field_count++;
        list[index] = i;
        set_field(season, i, today, forecast, &farm->state[i], it, index);
        if (farm->rest[i] > 0)
            it->pin[it->problem.pin_count++] =
                (struct turns_pin){.field = index, .start = 0, .hours = farm->rest[i], .under_way = true};
        farm->rest[i] = 0;
    }
    if (it->problem.field_count == 0)
        return;
    char what[CHECKER_TEXT];
    enum status status = how == PLANNER ? case_plan(it) : case_rule(it, (enum turns_rule)how);
    if (status != STATUS_OK || !checker_accepts(&it->problem, &it->plan, what))
        give_up(status == STATUS_OK ? what : status_name(status));
    for (int k = 0; k < it->plan.turn_count; k++) {
        const struct turn *turn = &it->turn[k];
        int today_hours = turn->start >= 24 ? 0 : turn->end <= 24 ? turn->hours : 24 - turn->start;
        hours[list[turn->field]] += today_hours;
        if (today_hours > 0)
            farm->rest[list[turn->field]] = turn->hours - today_hours;
    }
    for (int k = 0; k < it->problem.field_count; k++)
        note_waiting(farm, &it->field[k], list[k], today, hours[list[k]]);
}

static struct outcome run(const struct season *season, int how, struct turns_case *it) {
    static struct farm farm;
    struct outcome out = {.money = 0};
    double area = 0, worth = 0;
    memset(&farm, 0, sizeof farm);
    for (int i = 0; i < FIELDS; i++)
        season_begin(&season->prepared[i], &farm.state[i]);
    for (int today = season->begin; today < season->end; today++) {
        int hours[FIELDS] = {0};
        morning(season, today, how, it, &farm, hours);
        for (int i = 0; i < FIELDS; i++) {
            if (today < season->first[i] || today >= season->first[i] + season->days[i])
                continue;
            struct season_day day;
            double m3 = hours[i] * season->flow_m3_h;
            step(season, i, &farm.state[i], &season->years->day[today], m3 * 0.8 / fields[i].area_m2 * 1000,
                 &day);
            farm.water[i].etc_mm += day.etc_mm;
            farm.water[i].eta_mm += day.eta_mm;
            out.water_m3 += m3;
            out.hours += hours[i];
        }
    }
    for (int i = 0; i < FIELDS; i++) {
        struct yield_share share;
        double value = fields[i].area_m2 * fields[i].value_m2;
        farm.water[i].ky = season->setup[i].crop.ky_season;
        farm.water[i].eta_mm = fmin(farm.water[i].eta_mm, farm.water[i].etc_mm);
        if (yield_season(&farm.water[i], &share) != STATUS_OK)
            give_up("no yield");
        out.relative[i] = share.relative;
        out.share += share.relative * fields[i].area_m2;
        out.by_value += share.relative * value;
        out.money += share.relative * value;
        area += fields[i].area_m2;
        worth += value;
    }
    out.share /= area;
    out.by_value /= worth;
    out.money -= out.water_m3 * WATER_COST + out.hours * HOUR_COST;
    return out;
}

static bool replay(struct past_years *years, int year, struct turns_case *it) {
    static const char *const name[] = {"first come first served", "earliest dry first", "the plan"};
    static struct season season;
    struct outcome out[PLANNER + 1];
    open_season(&season, years, year);
    for (int how = 0; how <= PLANNER; how++) {
        out[how] = run(&season, how, it);
        printf("# measured: turns, %d replayed with 60 %% of the peak need (%.0f m3/h), %s: yield %.1f %% by "
               "area, %.1f %% by worth, water %.0f m3, money %.0f;",
               year, season.flow_m3_h, name[how], 100 * out[how].share, 100 * out[how].by_value,
               out[how].water_m3, out[how].money);
        for (int i = 0; i < FIELDS; i++)
            printf(" %s %.0f", fields[i].crop, 100 * out[how].relative[i]);
        printf("\n");
    }
    bool better = out[PLANNER].share > out[TURNS_FIRST_COME].share &&
                  out[PLANNER].by_value > out[TURNS_FIRST_COME].by_value;
    printf(
        "# measured: turns, %d: the plan against first come first served: yield %+.1f points by area, %+.1f "
        "by worth, water %+.1f %%, money %+.0f: to be kept: more yield: %s\n",
        year, 100 * (out[PLANNER].share - out[0].share), 100 * (out[PLANNER].by_value - out[0].by_value),
        100 * (out[PLANNER].water_m3 / out[0].water_m3 - 1), out[PLANNER].money - out[0].money,
        better ? "yes" : "MISSED");
    return better;
}

int main(void) {
    static const int years_of[] = {2013, 2014, 2015};
    struct past_years years;
    struct turns_case *it = malloc(sizeof *it);
    bool kept = it != NULL;
    setvbuf(stdout, NULL, _IOLBF, 0);
    past_years_seattle(&years);
    past_years_make_forecasts(&years, 5);
    for (size_t i = 0; it != NULL && i < sizeof years_of / sizeof *years_of; i++)
        kept = replay(&years, years_of[i], it) && kept;
    past_years_free(&years);
    free(it);
    return !kept;
}
