/* The `log` of an adapter: which column is which channel, and how it is written. */
#include "read/adapter_parts.h"

static void read_header(struct adapter_reader *r, const struct node *map, struct slice name,
                        struct adapter_log_channel *out)
{
  const struct node *header = node_get(map, "header");
  if (header == NULL)
    field_refuse(&r->field, map->place, "channel '%.*s' has no 'header'", SLICE_ARG(name));
  else
    adapter_pattern_read(r, header, "header", &out->header);
}

static void read_channel(struct adapter_reader *r, const struct entry *entry, const struct node *map,
                         struct adapter_log_channel *out)
{
  static const char *const keys[] = {"header", "unit",     "scale",          "offset", "values",
                                     "bit",    "inverted", "air_fuel_ratio", "gauge",  NULL};
  static const char *const time_keys[] = {"header", "unit", NULL};
  bool is_time = slice_is(entry->name, "time");
  out->how.entry = entry;
  if (!field_is(&r->field, entry->name, map, NODE_MAP, "a map with 'header'"))
    return;
  field_check_keys(&r->field, map, arena_print(r->field.arena, "channel '%.*s'", SLICE_ARG(entry->name)),
                   is_time ? time_keys : keys);
  read_header(r, map, entry->name, out);
  const struct node *unit = node_get(map, "unit");
  if (unit != NULL)
    out->how.unit = adapter_unit_read(r, unit, entry->name, entry->unit);
  adapter_how_read(r, map, entry->name, &out->how, NULL);
}

static void read_channels(struct adapter_reader *r, const struct node *map)
{
  struct adapter *adapter = r->adapter;
  if (!field_is(&r->field, slice_of("channels"), map, NODE_MAP, "a map from channel to 'header'"))
    return;
  adapter->channels = ARENA_ARRAY(r->field.arena, map->count, struct adapter_log_channel);
  for (size_t i = 0; i < map->count; i++) {
    const struct node_pair *pair = &map->pairs[i];
    const struct entry *entry = vocabulary_find(r->field.vocabulary, SCOPE_LOG, pair->key.text);
    if (entry == NULL)
      adapter_refuse_name(r, SCOPE_LOG, &pair->key);
    else
      read_channel(r, entry, &pair->value, &adapter->channels[adapter->channel_count++]);
  }
}

static void read_rate(struct adapter_reader *r, const struct node *node)
{
  const struct unit *hertz = unit_find(slice_of("Hz"));
  struct field_wanted wanted = {slice_of("rate"), hertz, hertz};
  struct field_quantity read;
  if (!field_read_quantity(&r->field, &wanted, node, &read))
    return;
  if (!(read.quantity.value > 0))
    field_refuse(&r->field, node->place, "'rate' must be over 0 Hz");
  r->adapter->rate = read.quantity.value;
}

void adapter_log_read(struct adapter_reader *r, const struct node *map)
{
  static const char *const keys[] = {"rate", "only", "channels", NULL};
  r->adapter->has_log = map != NULL;
  if (map == NULL || !field_is(&r->field, slice_of("log"), map, NODE_MAP, "a map with 'channels'"))
    return;
  field_check_keys(&r->field, map, "'log'", keys);
  const struct node *rate = node_get(map, "rate"), *channels = node_get(map, "channels");
  if (rate != NULL)
    read_rate(r, rate);
  r->adapter->only = adapter_flag_read(r, node_get(map, "only"), "only");
  if (channels != NULL)
    read_channels(r, channels);
  else if (rate == NULL)
    field_refuse(&r->field, map->place, "'log' has no 'channels'");
}

const struct adapter_channel *adapter_channel(const struct adapter *adapter, struct slice heading, size_t *next)
{
  while (*next < adapter->channel_count) {
    const struct adapter_log_channel *channel = &adapter->channels[(*next)++];
    size_t size = channel->header.prefix.size;
    struct pattern_match match;
    if (heading.size < size || !slice_equal(slice_part(heading, 0, size), channel->header.prefix))
      continue;
    if (pattern_find(channel->header.pattern, heading, 0, &match) == PATTERN_YES)
      return &channel->how;
  }
  return NULL;
}

double adapter_rate(const struct adapter *adapter)
{
  return adapter->rate;
}

bool adapter_only(const struct adapter *adapter)
{
  return adapter->only;
}
