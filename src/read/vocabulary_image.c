/* Every member of every entry, in the order in which model/vocabulary.h has them. */
#include "read/vocabulary_image.h"

#include "units/image.h"

static const struct slice *words_image(struct image *image, const struct slice *given, size_t count)
{
  struct slice *words = image_array(image, given, count, sizeof *words);
  for (size_t i = 0; i < count; i++)
    words[i] = image_slice(image, words[i]);
  return words;
}

static const struct record_field *fields_image(struct image *image, const struct record_field *given, size_t count)
{
  struct record_field *fields = image_array(image, given, count, sizeof *fields);
  for (size_t i = 0; i < count; i++) {
    fields[i].name = image_slice(image, fields[i].name);
    fields[i].unit = unit_image(image, fields[i].unit);
  }
  return fields;
}

static void entry_image(struct image *image, struct entry *entry)
{
  entry->name = image_slice(image, entry->name);
  entry->kind = (enum value_kind)image_index(image, entry->kind, VALUE_SERIES + 1);
  entry->unit = unit_image(image, entry->unit);
  entry->x_unit = unit_image(image, entry->x_unit);
  entry->y_unit = unit_image(image, entry->y_unit);
  entry->x_channel = image_slice(image, entry->x_channel);
  entry->y_channel = image_slice(image, entry->y_channel);
  entry->choice_count = image_count(image, entry->choice_count);
  entry->choices = words_image(image, entry->choices, entry->choice_count);
  entry->field_count = image_count(image, entry->field_count);
  entry->fields = fields_image(image, entry->fields, entry->field_count);
  entry->on_off = image_word(image, entry->on_off) != 0;
  entry->has_range = image_word(image, entry->has_range) != 0;
  if (entry->has_range) {
    entry->range_low = image_number(image, entry->range_low);
    entry->range_high = image_number(image, entry->range_high);
  }
  entry->also_count = image_count(image, entry->also_count);
  entry->also = words_image(image, entry->also, entry->also_count);
  entry->about = image_slice(image, entry->about);
}

const struct vocabulary *vocabulary_image(struct image *image, const struct vocabulary *vocabulary)
{
  struct vocabulary *made = image_array(image, vocabulary, 1, sizeof *made);
  for (int scope = 0; scope < SCOPE_COUNT; scope++) {
    size_t count = image_count(image, made->count[scope]);
    struct entry *entries = image_array(image, made->entries[scope], count, sizeof *entries);
    uint32_t *by_name = image_array(image, made->by_name[scope], count, sizeof *by_name);
    for (size_t i = 0; i < count; i++)
      entry_image(image, &entries[i]);
    for (size_t i = 0; i < count; i++)
      by_name[i] = (uint32_t)image_index(image, by_name[i], count);
    made->count[scope] = count;
    made->entries[scope] = entries;
    made->by_name[scope] = by_name;
  }
  return image->broken ? NULL : made;
}
