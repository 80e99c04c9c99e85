/* What people read, by language: web/words.LANGUAGE.json, a flat object of key and text. A text may have
 * holes: "run {hours} for {gross}". Nothing in here changes after words_open(): any thread may read. */
#ifndef WATERTURN_WORDS_H
#define WATERTURN_WORDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "daemon/base/problem.h"
#include "daemon/base/text.h"

struct words;

/* The languages that ship, "en" first; NULL past the last. */
const char *words_language_at(size_t index);

/* The one of them that an Accept-Language header, or the name of a locale (may be NULL), likes best; "en"
 * when it likes none. */
const char *words_choose(const char *accept_language);

/* NULL when there is no such language, its asset is not an object of strings, or memory ran out. */
struct words *words_open(const char *language);
void words_close(struct words *words);

const char *words_language(const struct words *words);

/* NULL when there is none. */
const char *words_find(const struct words *words, const char *key);

/* The text of a key; the key itself when there is none, so that a gap can be seen. Never NULL. */
const char *words_get(const struct words *words, const char *key);

/* A crop of the library as people call it: the text of "crop.NAME"; the name itself where there is none, as
 * in English. */
const char *words_crop(const struct words *words, const char *name);
/* The other way round, letters large or small: the library's name of what people call a crop; `called` itself
 * when no crop is called so. */
const char *words_crop_named(const struct words *words, const char *called);

/* An English phrase in the language, by the words problem.said.PHRASE; as it is where there are none. */
const char *words_phrase(const struct words *words, const char *phrase);
/* What is wrong in the words of the language, where they have it (problem_tell(), problem_add()), else the
 * message. */
void words_problem(const struct words *words, const struct problem *problem, struct text *out);
/* The same of what problems_keep_first() wrote, or of a line as it is. */
void words_kept(const struct words *words, const char *kept, struct text *out);

/* Every text whose key begins with `prefix`, without it. */
typedef void (*words_visitor)(void *context, const char *key, const char *text);
void words_each(const struct words *words, const char *prefix, words_visitor visit, void *context);

/* Adds the text of a key with its holes filled. A hole that no entry of `holes` fills is kept as it is
 * written. */
void words_fill(const struct words *words, const char *key, const struct words_hole *holes, size_t count,
                struct text *out);

#endif
