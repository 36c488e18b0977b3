/* A row of the table is written as its number, a composed unit with what it is made of. */
#include "units/image.h"

struct dimension dimension_image(struct image *image, struct dimension dimension)
{
  image_raw(image, dimension.of, sizeof dimension.of);
  return dimension;
}

const struct unit *unit_image(struct image *image, const struct unit *unit)
{
  size_t rows = unit_count(), row = 0;
  while (image->writes && unit != NULL && row < rows && unit_at(row) != unit)
    row++;
  row = image_index(image, unit != NULL ? row + 1 : 0, rows + 2); /* 0: none; above the rows: composed */
  if (row <= rows)
    return row > 0 ? unit_at(row - 1) : NULL;
  const void *there = unit;
  struct unit *made = image_shared(image, &there, sizeof *made);
  if (made == NULL)
    return there;
  made->name = image_text(image, made->name);
  made->ucum = image_text(image, made->ucum);
  made->dimension = dimension_image(image, made->dimension);
  made->sense = (enum unit_sense)image_index(image, made->sense, SENSE_EITHER + 1);
  made->factor = image_number(image, made->factor);
  made->offset = image_number(image, made->offset);
  return there;
}

struct quantity quantity_image(struct image *image, struct quantity quantity)
{
  quantity.value = image_number(image, quantity.value);
  quantity.unit = unit_image(image, quantity.unit);
  return quantity;
}
