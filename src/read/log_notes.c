/* What was noticed in a log, and the words for it. */
#include "read/log_notes.h"

#include "base/number.h"
#include "text/utf8.h"

#include <math.h>
#include <stdint.h>

/* A drive has a handful of marks; a file of nothing else must not fill memory with notes. */
#define MARKERS_KEPT 100
#define SHOWN 60

static void add(struct log_notes *notes, enum log_note_kind kind, struct place place, const char *text)
{
  notes->items = arena_grow(notes->arena, notes->items, notes->count, &notes->capacity, sizeof *notes->items);
  notes->items[notes->count++] = (struct log_note){kind, place, text, NULL};
}

void log_notes_add(struct log_notes *notes, enum log_note_kind kind, struct place place, const char *format, ...)
{
  va_list args;
  va_start(args, format);
  add(notes, kind, place, arena_vprint(notes->arena, format, args));
  va_end(args);
}

void log_notes_add_marker(struct log_notes *notes, struct place place, struct slice text)
{
  if (notes->markers++ < MARKERS_KEPT)
    log_notes_add(notes, LOG_NOTE_MARKER, place, "a line that is no row: '%s'", log_shown(notes->arena, text));
}

void log_notes_finish(struct log_notes *notes, struct place end)
{
  if (notes->markers > MARKERS_KEPT)
    log_notes_add(notes, LOG_NOTE_MARKER, end, "%s more lines that are no rows",
                  log_count_text(notes->arena, notes->markers - MARKERS_KEPT));
}

struct place log_place(const struct source *source, const char *from, const char *to)
{
  const char *start = source->bytes.at;
  return (struct place){source->id, (uint64_t)(from - start), (uint64_t)(to - start)};
}

const char *log_shown(struct arena *arena, struct slice text)
{
  bool cut = text.size > SHOWN;
  char *copy = arena_alloc(arena, SHOWN + 8);
  size_t size = 0;
  while (text.size > 0 && size < SHOWN) {
    uint32_t code = 0;
    size_t used = utf8_read(text, &code);
    if (used > SHOWN - size)
      break;
    if (used == 0 || code < 0x20 || (code >= 0x7f && code < 0xa0) || code == 0x2028 || code == 0x2029) {
      copy[size++] = used == 0 ? '?' : ' ';
      used = 1;
    } else {
      memcpy(copy + size, text.at, used);
      size += used;
    }
    text = slice_part(text, used, text.size);
  }
  if (cut)
    memcpy(copy + size, "...", 3);
  return copy;
}

const char *log_count_text(struct arena *arena, size_t count)
{
  if (count < 1000)
    return arena_print(arena, "%zu", count);
  return arena_print(arena, "%s %03zu", log_count_text(arena, count / 1000), count % 1000);
}

const char *log_number_text(struct arena *arena, double value, int digits)
{
  char text[40];
  number_print(text, sizeof text, value, digits);
  return arena_text(arena, slice_of(text));
}

const char *log_duration_text(struct arena *arena, double seconds)
{
  if (!(seconds >= 59.95 && seconds < 1e12))
    return arena_print(arena, "%s s", log_number_text(arena, seconds, 3));
  uint64_t whole = (uint64_t)llround(seconds), hours = whole / 3600, minutes = whole / 60 % 60, rest = whole % 60;
  if (hours > 0)
    return arena_print(arena, minutes > 0 ? "%llu h %llu min" : "%llu h", (unsigned long long)hours,
                       (unsigned long long)minutes);
  return arena_print(arena, rest > 0 ? "%llu min %llu s" : "%llu min", (unsigned long long)minutes,
                     (unsigned long long)rest);
}
