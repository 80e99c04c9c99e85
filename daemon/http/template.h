/* Mustache templates over cJSON: the open specification as far as the pages need it, without lambdas and the
 * optional modules. Variables, {{{raw}}} and {{&raw}}, sections, inverted sections, dotted names, the
 * implicit iterator {{.}}, partials, comments, changed delimiters, standalone lines.
 *
 * Where the specification leaves freedom this does what the npm package `mustache` does:
 *   - escapes & < > " ' / ` = as &amp; &lt; &gt; &quot; &#39; &#x2F; &#x60; &#x3D;
 *   - 0, "", false, null and what is absent are false; an empty list is false, an empty object is true;
 *   - a true string, number or object is pushed as the context of its section;
 *   - numbers print as ECMAScript prints them; a list prints its items with commas, an object "[object
 * Object]";
 *   - a line with nothing but white space and several tags that print nothing counts as standalone. */
#ifndef WATERTURN_TEMPLATE_H
#define WATERTURN_TEMPLATE_H

#include <stdbool.h>
#include <stddef.h>

#include <cjson/cJSON.h>

#include "core/base/status.h"
#include "daemon/base/problem.h"
#include "daemon/base/text.h"

#define TEMPLATE_DEPTH_MAX 64 /* sections and partials inside each other */

/* Gives the source of a partial; NULL when there is none (it then prints nothing). */
struct template_partials {
    const char *(*find)(void *context, const char *name);
    void *context;
};

/* Adds the rendered template to `out`. STATUS_REFUSED: the template is malformed or nests too deeply, said in
 * `problems` with `name` and the line; STATUS_NO_ROOM: `out` is full. `partials` may be NULL. */
enum status template_render(const char *name, const char *source, const cJSON *view,
                            const struct template_partials *partials, struct text *out,
                            struct problems *problems);

/* The template web/NAME.mustache, whose partials are templates of web/ too. STATUS_NOT_FOUND: no such
 * template. */
enum status template_render_asset(const char *name, const cJSON *view, struct text *out,
                                  struct problems *problems);

#endif
