/* Finished structures as bytes that are there again at once: how the compiled packs are built into the program. One
 * function a structure both writes and reads it (`it->size = image_word(image, it->size)`), so that the two cannot
 * differ. Included by the image.c of the rooms and rules/freeze.c. The bytes are the same on every machine. Texts are
 * not copied: the bytes must outlive what is read. Not thread-safe. */
#ifndef KEYWAY_BASE_IMAGE_H
#define KEYWAY_BASE_IMAGE_H

#include "base/arena.h"
#include "base/slice.h"

#include <stdint.h>

struct image {
  struct arena *arena;
  bool writes;
  bool broken;                   /* bytes that no writer wrote: what was read must not be used */
  const unsigned char *at, *end; /* reading: what is left */
  unsigned char *bytes;          /* writing: what there is */
  size_t size, capacity;
  const void **shared; /* objects that several places point at */
  size_t shared_count, shared_capacity;
};

struct image image_writer(struct arena *arena);
struct image image_reader(struct arena *arena, struct slice bytes);

uint64_t image_word_slow(struct image *image, uint64_t value);

/* Writes the value, or reads one: small ones take a byte. */
static inline uint64_t image_word(struct image *image, uint64_t value)
{
  if (!image->writes && image->at < image->end && *image->at < 128)
    return *image->at++;
  return image_word_slow(image, value);
}

void image_refuse(struct image *image); /* everything that is read after it is nothing */

/* A word below `most`. */
static inline size_t image_index(struct image *image, size_t value, size_t most)
{
  uint64_t index = image_word(image, value);
  if (index < most)
    return (size_t)index;
  image_refuse(image);
  return 0;
}

/* How many items follow; each of them takes a byte at least. */
size_t image_count(struct image *image, size_t count);
double image_number(struct image *image, double value);
void image_raw(struct image *image, void *bytes, size_t size);    /* without byte order */
struct slice image_slice(struct image *image, struct slice text); /* reads as NUL-terminated */
const char *image_text(struct image *image, const char *text);    /* may be NULL */

/* Room for `count` items that are about to be read, or a copy of those that are written. */
void *image_array(struct image *image, const void *items, size_t count, size_t size);

/* An object that several places point at. NULL: *there is it, as it was made before (or NULL). Otherwise its members
 * are to follow, in what is returned, which becomes *there. */
void *image_shared(struct image *image, const void **there, size_t size);

#endif
