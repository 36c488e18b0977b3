/* Units in an image (base/image.h). Included by the image.c of other rooms. */
#ifndef KEYWAY_UNITS_IMAGE_H
#define KEYWAY_UNITS_IMAGE_H

#include "base/image.h"
#include "units/unit.h"

const struct unit *unit_image(struct image *image, const struct unit *unit); /* may be NULL */
struct quantity quantity_image(struct image *image, struct quantity quantity);
struct dimension dimension_image(struct image *image, struct dimension dimension);

#endif
