/* People's word on the turns, and what became of them: each is one transaction, with the plan of the field's
 * supply made anew in it. A form that was taken before changes nothing and gives STATUS_OK. STATUS_REFUSED:
 * it does not fit, said in `problems`. STATUS_NOT_FOUND: there is no such field, turn or mark, or it is
 * settled already. */
#ifndef WATERTURN_TURNS_BOOK_H
#define WATERTURN_TURNS_BOOK_H

#include "daemon/morning/book.h"
#include "daemon/store/turns_store.h"

#define TURNS_MARKS_MAX 8

/* Marks set together: one for a pin or for hours kept dry, two where a turn is split. */
struct turns_word {
    long long remove; /* a mark that goes first (a pin that is moved); 0: none */
    long long moved;  /* the planned turn that the first mark moves: it keeps its row and uid; 0: none */
    int count;        /* 0: `remove` alone; all of one field */
    struct farm_turn_mark mark[TURNS_MARKS_MAX];
};

/* Sets marks and takes one away. They are checked as a farm file's are; a pinned turn begins within the days
 * planned and not before now. A pin that no limit leaves room for is taken all the same: the plan says which
 * limit it breaks. */
enum status turns_book_mark(struct db *db, const struct book_form *form, const struct turns_word *word,
                            struct problems *problems);

/* Done: adds the irrigation, as book_record() does, and settles the turn. STATUS_REFUSED also before
 * turns_done_from(). */
enum status turns_book_done(struct db *db, const struct book_form *form, long long turn,
                            const struct farm_record *record, struct problems *problems);

/* Late: it begins, or began, at another hour than planned. */
enum status turns_book_late(struct db *db, const struct book_form *form, long long turn, int32_t date,
                            int hour, struct problems *problems);

/* Skipped: it is not done; the plan gives the field no turn in its hours. */
enum status turns_book_skipped(struct db *db, const struct book_form *form, long long turn,
                               struct problems *problems);

#endif
