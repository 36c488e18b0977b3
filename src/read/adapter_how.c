/* How a number, switch or choice is written: the keys that settings and log channels share. Reading order:
 * adapter_how_read, then one function a key. */
#include "read/adapter_parts.h"

#include <math.h>

#define BIT_MOST 52 /* whole numbers are exact in a double up to 2^53 */

static const struct unit *lambda_unit(void)
{
  return unit_find(slice_of("lambda"));
}

static bool has_dimension_of(const struct unit *unit, const char *name)
{
  const struct unit *other = unit_find(slice_of(name));
  return unit != NULL && other != NULL && dimension_equal(unit->dimension, other->dimension);
}

static bool is_switch(const struct entry *entry)
{
  return entry->kind == VALUE_SWITCH || entry->on_off;
}

static const char *kind_words(const struct entry *entry)
{
  return is_switch(entry) ? "a switch" : entry->kind == VALUE_CHOICE ? "a choice" : "no switch and no choice";
}

/* A choice's index, 0 or 1 of a switch, or a number of a log's channel. */
static bool word_value(struct adapter_reader *r, const struct entry *entry, const struct node *node, double *out)
{
  struct entry plain = *entry;
  const struct value *value = NULL;
  if (entry->kind == VALUE_SERIES)
    plain.kind = entry->on_off ? VALUE_SWITCH : VALUE_NUMBER;
  if (plain.kind == VALUE_NUMBER && plain.unit == NULL)
    plain.unit = unit_find(slice_of("1"));
  value = field_read(&r->field, &plain, node);
  if (value == NULL)
    return false;
  if (plain.kind == VALUE_SWITCH)
    *out = value->as.on ? 1.0 : 0.0;
  else if (plain.kind == VALUE_NUMBER)
    *out = value->as.number.value;
  for (size_t i = 0; plain.kind == VALUE_CHOICE && i < entry->choice_count; i++) {
    if (slice_equal(entry->choices[i], value->as.text))
      *out = (double)i;
  }
  return true;
}

static void read_values(struct adapter_reader *r, const struct node *node, struct adapter_channel *how)
{
  if (!field_is(&r->field, slice_of("values"), node, NODE_MAP, "a map from the text as written to the word"))
    return;
  struct slice *words = ARENA_ARRAY(r->field.arena, node->count, struct slice);
  double *numbers = ARENA_ARRAY(r->field.arena, node->count, double);
  for (size_t i = 0; i < node->count; i++) {
    const struct node_pair *pair = &node->pairs[i];
    words[how->word_count] = slice_trim(pair->key.text);
    if (word_value(r, how->entry, &pair->value, &numbers[how->word_count]))
      how->word_count++;
  }
  how->words = words;
  how->word_values = numbers;
}

static void read_bit(struct adapter_reader *r, const struct node *node, struct adapter_channel *how)
{
  double bit = 0;
  if (!adapter_real_read(r, node, "bit", &bit))
    return;
  if (!(bit >= 0 && bit <= BIT_MOST && bit == floor(bit))) {
    field_refuse(&r->field, node->place, "'bit' is a whole number from 0, the lowest bit, to %d", BIT_MOST);
    return;
  }
  how->bit = (int)bit;
}

static void read_ratio(struct adapter_reader *r, const struct node *node, struct adapter_channel *how,
                       struct adapter_spec *spec)
{
  const struct unit *one = unit_find(slice_of("1"));
  if (node->kind == NODE_MAP && spec != NULL) {
    spec->ratio_at = adapter_reference_read(r, node, "air_fuel_ratio", spec->match.pattern, one);
    return;
  }
  if (!adapter_real_read(r, node, "air_fuel_ratio", &how->ratio))
    return;
  if (!(how->ratio > 0)) {
    how->ratio = 0;
    field_refuse(&r->field, node->place, "'air_fuel_ratio' is the ratio at lambda 1, such as 14.7: above 0");
  }
}

static void read_gauge(struct adapter_reader *r, const struct node *node, struct adapter_channel *how,
                       struct adapter_spec *spec)
{
  static const char *const keys[] = {"barometer", NULL};
  const struct unit *pressure = unit_find(slice_of("kPa"));
  if (!field_is(&r->field, slice_of("gauge"), node, NODE_MAP, "{barometer: PRESSURE}"))
    return;
  field_check_keys(&r->field, node, "'gauge'", keys);
  const struct node *barometer = node_get(node, "barometer");
  if (barometer == NULL) {
    field_refuse(&r->field, node->place, "'gauge' has no 'barometer'");
    return;
  }
  if (barometer->kind == NODE_MAP && spec != NULL) {
    spec->barometer_at = adapter_reference_read(r, barometer, "barometer", spec->match.pattern, pressure);
    return;
  }
  struct field_wanted wanted = {slice_of("barometer"), pressure, pressure};
  struct field_quantity read;
  if (!field_read_quantity(&r->field, &wanted, barometer, &read))
    return;
  if (!read.has_unit)
    field_refuse(&r->field, barometer->place, "'barometer' needs its unit, such as 100 kPa or 14.7 psi");
  how->base_offset = read.quantity.value;
}

static void read_scale(struct adapter_reader *r, const struct node *map, struct adapter_channel *how)
{
  const struct node *scale = node_get(map, "scale"), *offset = node_get(map, "offset");
  if (scale != NULL && adapter_real_read(r, scale, "scale", &how->scale) && how->scale == 0) {
    field_refuse(&r->field, scale->place, "'scale: 0' would make every number the same");
    how->scale = 1;
  }
  if (offset != NULL)
    adapter_real_read(r, offset, "offset", &how->offset);
}

void adapter_how_read(struct adapter_reader *r, const struct node *map, struct slice name, struct adapter_channel *how,
                      struct adapter_spec *spec)
{
  const struct node *values = node_get(map, "values"), *bit = node_get(map, "bit");
  const struct node *ratio = node_get(map, "air_fuel_ratio"), *gauge = node_get(map, "gauge");
  const struct node *inverted = node_get(map, "inverted");
  bool is_log = how->entry->kind == VALUE_SERIES;
  how->scale = 1;
  how->bit = -1;
  read_scale(r, map, how);
  if (values != NULL && (is_log || is_switch(how->entry) || how->entry->kind == VALUE_CHOICE))
    read_values(r, values, how);
  if (bit != NULL)
    read_bit(r, bit, how);
  how->inverted = adapter_flag_read(r, inverted, "inverted");
  if (is_log && !is_switch(how->entry) && (bit != NULL || inverted != NULL))
    field_refuse(&r->field, bit != NULL ? bit->place : inverted->place, "'%s' is for switches, and '%.*s' is none",
                 bit != NULL ? "bit" : "inverted", SLICE_ARG(name));
  if (values != NULL && bit != NULL)
    field_refuse(&r->field, bit->place, "'bit' and 'values' say two different things");
  const struct unit *wanted = spec != NULL ? spec->wanted : how->entry->unit;
  if (ratio != NULL && !has_dimension_of(wanted, "lambda"))
    field_refuse(&r->field, ratio->place, "'air_fuel_ratio' is for lambda; '%.*s' is %s", SLICE_ARG(name),
                 wanted == NULL ? kind_words(how->entry)
                                : dimension_name(r->field.problems->arena, wanted->dimension, wanted->sense));
  else if (ratio != NULL)
    read_ratio(r, ratio, how, spec);
  if (ratio != NULL && node_get(map, "unit") != NULL)
    field_refuse(&r->field, node_key(map, "unit")->place, "an air-fuel ratio takes no unit");
  if (ratio != NULL)
    how->unit = lambda_unit();
  if (gauge != NULL && !has_dimension_of(wanted, "kPa"))
    field_refuse(&r->field, gauge->place, "'gauge' is for pressures, and '%.*s' is none", SLICE_ARG(name));
  else if (gauge != NULL)
    read_gauge(r, gauge, how, spec);
}

bool adapter_word(const struct adapter_channel *channel, struct slice text, double *out)
{
  for (size_t i = 0; i < channel->word_count; i++) {
    if (adapter_same_word(channel->words[i], text)) {
      *out = channel->word_values[i];
      return true;
    }
  }
  return false;
}

double adapter_number(const struct adapter_channel *channel, const struct unit *unit, double written)
{
  if (channel->bit >= 0) {
    if (!(written >= 0 && written == floor(written) && written < 9007199254740992.0))
      return (double)NAN;
    double on = fmod(floor(ldexp(written, -channel->bit)), 2.0);
    return channel->inverted ? 1 - on : on;
  }
  double number = written * channel->scale + channel->offset;
  if (channel->ratio > 0)
    return number / channel->ratio;
  double base = unit_to_base(unit, number) + channel->base_offset;
  return channel->inverted ? 1 - base : base;
}
