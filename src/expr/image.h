/* Names and compiled expressions in an image (base/image.h). Included by rules/. */
#ifndef KEYWAY_EXPR_IMAGE_H
#define KEYWAY_EXPR_IMAGE_H

#include "base/image.h"
#include "expr/expr.h"

/* Each writes what it is given, or reads (then the first argument behind the image counts for nothing). */
const struct names *names_image(struct image *image, const struct names *names);
/* Every distinct expression; they are then named by expr_image. One that was read serves evaluation only: nothing can
 * be compiled into it. */
struct graph *graph_image(struct image *image, struct graph *graph, const struct names *names);
const struct expr *expr_image(struct image *image, const struct expr *expr, const struct graph *graph); /* or NULL */
const struct name *name_image(struct image *image, const struct name *name, const struct names *names); /* or NULL */

#endif
