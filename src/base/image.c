/* Words are written seven bits a byte, lowest first; numbers as the eight bytes of an IEEE double, lowest first; texts
 * as their size, bytes and a NUL. */
#include "base/image.h"

#include <string.h>

struct image image_writer(struct arena *arena)
{
  return (struct image){.arena = arena, .writes = true};
}

struct image image_reader(struct arena *arena, struct slice bytes)
{
  const unsigned char *at = (const unsigned char *)bytes.at;
  return (struct image){.arena = arena, .at = at, .end = at + bytes.size};
}

static void add(struct image *image, unsigned char byte)
{
  image->bytes = arena_grow(image->arena, image->bytes, image->size, &image->capacity, 1);
  image->bytes[image->size++] = byte;
}

void image_refuse(struct image *image)
{
  image->broken = true;
  image->at = image->end;
}

uint64_t image_word_slow(struct image *image, uint64_t value)
{
  if (image->writes) {
    uint64_t rest = value;
    for (; rest >= 128; rest >>= 7)
      add(image, (unsigned char)((rest & 127) | 128));
    add(image, (unsigned char)rest);
    return value;
  }
  if (image->end - image->at >= 2 && image->at[1] < 128) { /* most */
    image->at += 2;
    return (image->at[-2] & 127u) | (uint64_t)image->at[-1] << 7;
  }
  uint64_t read = 0;
  for (unsigned shift = 0; image->at < image->end && shift < 64; shift += 7) {
    unsigned char byte = *image->at++;
    read |= (uint64_t)(byte & 127) << shift;
    if (byte < 128)
      return read;
  }
  image_refuse(image);
  return 0;
}

size_t image_count(struct image *image, size_t count)
{
  uint64_t read = image_word(image, count);
  if (image->writes || read <= (uint64_t)(image->end - image->at))
    return (size_t)read;
  image_refuse(image);
  return 0;
}

void image_raw(struct image *image, void *bytes, size_t size)
{
  unsigned char *to = bytes;
  if (image->writes) {
    for (size_t i = 0; i < size; i++)
      add(image, to[i]);
  } else if (size <= (size_t)(image->end - image->at)) {
    memcpy(to, image->at, size);
    image->at += size;
  } else {
    image_refuse(image);
    memset(to, 0, size);
  }
}

double image_number(struct image *image, double value)
{
  unsigned char bytes[8];
  uint64_t bits;
  memcpy(&bits, &value, sizeof bits);
  for (unsigned i = 0; i < 8; i++)
    bytes[i] = (unsigned char)(bits >> 8 * i);
  image_raw(image, bytes, sizeof bytes);
  bits = 0;
  for (unsigned i = 0; i < 8; i++)
    bits |= (uint64_t)bytes[i] << 8 * i;
  memcpy(&value, &bits, sizeof value);
  return value;
}

struct slice image_slice(struct image *image, struct slice text)
{
  size_t size = image_count(image, text.size);
  if (image->writes) {
    for (size_t i = 0; i < size; i++)
      add(image, (unsigned char)text.at[i]);
    add(image, 0);
    return text;
  }
  struct slice read = {(const char *)image->at, size};
  if (size >= (size_t)(image->end - image->at) || image->at[size] != 0) {
    image_refuse(image);
    return (struct slice){"", 0};
  }
  image->at += size + 1;
  return read;
}

const char *image_text(struct image *image, const char *text)
{
  if (image_word(image, text != NULL) == 0)
    return NULL;
  return image_slice(image, slice_of(text != NULL ? text : "")).at;
}

void *image_array(struct image *image, const void *items, size_t count, size_t size)
{
  if (count == 0)
    return NULL;
  void *array = arena_array(image->arena, count, size);
  if (image->writes)
    memcpy(array, items, count * size);
  return array;
}

/* 0: none; otherwise its number from 1, the next one being new. */
void *image_shared(struct image *image, const void **there, size_t size)
{
  size_t number = 0;
  if (image->writes && *there != NULL) {
    while (number < image->shared_count && image->shared[number] != *there)
      number++;
    number++;
  }
  number = image_index(image, number, image->shared_count + 2);
  if (number <= image->shared_count) {
    *there = number > 0 ? image->shared[number - 1] : NULL;
    return NULL;
  }
  image->shared =
      arena_grow(image->arena, image->shared, image->shared_count, &image->shared_capacity, sizeof *image->shared);
  void *object = image_array(image, *there, 1, size);
  if (!image->writes)
    *there = object;
  image->shared[image->shared_count++] = *there;
  return object;
}
