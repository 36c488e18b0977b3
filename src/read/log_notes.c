/* What was noticed in a log, and the words for it. */
#include "read/log_notes.h"

#include "base/number.h"
#include "text/utf8.h"

#include <math.h>
#include <stdint.h>

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

void log_notes_add_marker(struct log_notes *notes, struct place place, const char *shown)
{
  if (notes->markers++ < LOG_MARKERS_KEPT)
    log_notes_add(notes, LOG_NOTE_MARKER, place, "a line that is no row: '%s'", shown);
}

void log_notes_finish(struct log_notes *notes, struct place end)
{
  if (notes->markers > LOG_MARKERS_KEPT)
    log_notes_add(notes, LOG_NOTE_MARKER, end, "%s more lines that are no rows",
                  log_count_text(notes->arena, notes->markers - LOG_MARKERS_KEPT));
}

struct place log_place(const struct log_text *text, const char *from, const char *to)
{
  return (struct place){text->source->id, text->from + (uint64_t)(from - text->at),
                        text->from + (uint64_t)(to - text->at)};
}

void log_show(char shown[LOG_SHOWN_SIZE], struct slice text)
{
  bool cut = text.size > SHOWN;
  size_t size = 0;
  while (text.size > 0 && size < SHOWN) {
    uint32_t code = 0;
    size_t used = utf8_read(text, &code);
    if (used > SHOWN - size)
      break;
    if (used == 0 || code < 0x20 || (code >= 0x7f && code < 0xa0) || code == 0x2028 || code == 0x2029) {
      shown[size++] = used == 0 ? '?' : ' ';
      used = 1;
    } else {
      memcpy(shown + size, text.at, used);
      size += used;
    }
    text = slice_part(text, used, text.size);
  }
  memcpy(shown + size, cut ? "..." : "", cut ? 4 : 1);
}

const char *log_shown(struct arena *arena, struct slice text)
{
  char shown[LOG_SHOWN_SIZE];
  log_show(shown, text);
  return arena_text(arena, slice_of(shown));
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
