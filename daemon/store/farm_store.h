/* The farm book in the database. */
#ifndef WATERTURN_FARM_STORE_H
#define WATERTURN_FARM_STORE_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/farm/farm.h"
#include "daemon/store/db.h"

/* Puts a checked farm into the database, in one transaction. Stations, sources, soils, supplies, fields and
 * plantings become those of `farm`; weather already stored stays with the stations and sources that keep
 * their names. Records of `farm`, and marks of turns, that are not there yet are added, those in the database
 * stay. What the database has and `farm` lacks goes, unless it holds records: then STATUS_REFUSED, and
 * nothing is changed; with `replace` they go too. All plantings are computed anew by the next morning. */
enum status farm_store_save(struct db *db, const struct farm *farm, bool replace, struct problems *problems);

/* A morning that is being stored in parts has to begin again: what was changed bears on more than the field
 * whose form it was. Within the caller's transaction. */
enum status farm_store_void_parts(struct db *db, struct problems *problems);

/* ---- changes by forms, within the caller's transaction ---- */

/* Writes a farm that farm_store_load_field() read and that was changed since: the farm's own row, stations,
 * sources, soils, supplies and fields (changed ones, and new ones at the end of their lists), and those
 * plantings for which `plantings` says so; their ledgers are marked. Records, trials, and what is no longer
 * in the lists stay as they are. */
enum status farm_store_put(struct db *db, const struct farm *farm, const bool *plantings,
                           struct problems *problems);

/* A name, and a planting's date, are what rows are found by: changed first. */
enum status farm_store_rename_field(struct db *db, const char *old, const char *name,
                                    struct problems *problems);
enum status farm_store_rename_supply(struct db *db, const char *old, const char *name,
                                     struct problems *problems);
enum status farm_store_move_planting(struct db *db, const char *field, int32_t old, int32_t day,
                                     struct problems *problems);

/* Marks the ledgers of a field, of all fields with a soil, or of all, to be computed anew from their first
 * day. */
enum farm_mark { FARM_MARK_NONE, FARM_MARK_FIELD, FARM_MARK_SOIL, FARM_MARK_ALL };
enum status farm_store_mark(struct db *db, enum farm_mark mark, const char *name, struct problems *problems);

/* ---- reading ---- */

/* Reads it all into `farm` (freed by the caller with farm_free()). STATUS_NOT_FOUND when the book is empty.
 */
enum status farm_store_load(struct db *db, struct farm *farm, struct problems *problems);

/* The same with the records of one field only ("": with none). */
enum status farm_store_load_field(struct db *db, const char *field, struct farm *farm,
                                  struct problems *problems);

/* The same with the plantings of that field only ("": with none), of which a farm has many after some
 * seasons: for showing it. Not for farm_store_put(), and farm_store_ids() then has no ids of plantings that
 * mean anything. */
enum status farm_store_view_field(struct db *db, const char *field, struct farm *farm,
                                  struct problems *problems);
/* The same with the records of a field and of all that share its supply. */
enum status farm_store_load_sharing(struct db *db, const char *field, struct farm *farm,
                                    struct problems *problems);

/* Only the farm's own row: its name, units and time zone; the lists are empty. STATUS_NOT_FOUND as above. */
enum status farm_store_head(struct db *db, struct farm *farm, struct problems *problems);

/* How far the book is filled. All 0 when it is empty. */
struct farm_counts {
    int stations, sources, untried, fields; /* untried: sources that were never asked */
    int sharing, supplies;                  /* sharing: fields that draw from a supply */
};
enum status farm_store_count(struct db *db, struct farm_counts *out, struct problems *problems);

/* STATUS_OK or STATUS_NOT_FOUND. */
enum status farm_store_has_field(struct db *db, const char *field, struct problems *problems);

/* Row ids behind the lists of a loaded farm, same order; NULL lists for the empty ones. */
struct farm_ids {
    long long *station, *source, *field, *planting, *turn_mark;
    int32_t *dirty; /* of each planting: compute from this day on; CALENDAR_NONE: the ledger stands */
};
enum status farm_store_ids(struct db *db, const struct farm *farm, struct farm_ids *ids,
                           struct problems *problems);
void farm_ids_free(struct farm_ids *ids);

/* ---- reading part by part, whose size does not grow with the farm ---- */

/* The farm's own row, its stations, sources and soils, and their ids; no supplies, trials or fields yet. */
enum status farm_store_load_places(struct db *db, struct farm *farm, struct farm_ids *ids,
                                   struct problems *problems);

/* Goes through the fields, `most` at a time (1..FARM_PART_FIELDS), or takes `field` alone (it must last as
 * long). It may go on through several transactions. */
#define FARM_PART_FIELDS 64
struct farm_parts;
enum status farm_parts_open(struct db *db, const char *field, size_t most, struct farm_parts **out,
                            struct problems *problems);
void farm_parts_close(struct farm_parts *parts);

/* Puts the next fields, with their plantings, records and ids, in the place of those that are in `farm` and
 * `ids`, which farm_store_load_places() filled. STATUS_NOT_FOUND: there are none (or no more). */
enum status farm_parts_next(struct farm_parts *parts, struct farm *farm, struct farm_ids *ids,
                            struct problems *problems);

/* The first day of all plantings at a station, and at those that it is a neighbour of; CALENDAR_NONE. */
enum status farm_store_first_start(struct db *db, const char *station, int32_t *first,
                                   struct problems *problems);

#endif
