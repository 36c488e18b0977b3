/* The vocabulary in an image (base/image.h). Included by cli/, rules/freeze.c and tests. */
#ifndef KEYWAY_READ_VOCABULARY_IMAGE_H
#define KEYWAY_READ_VOCABULARY_IMAGE_H

#include "base/image.h"
#include "model/vocabulary.h"

/* Writes it, or reads one (NULL when the image is broken). */
const struct vocabulary *vocabulary_image(struct image *image, const struct vocabulary *vocabulary);

#endif
