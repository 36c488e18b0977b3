/* The list of what could not be read. Past LIMIT_PROBLEMS only the count and the class are kept, so that the exit
 * status is right whatever was dropped. */
#include "base/problem.h"

#include "base/limits.h"

/* A message is one line for a person: a scalar of 64 KB quoted in it helps nobody. */
#define MESSAGE_CUT 800

void problems_init(struct problems *problems, struct arena *arena, enum problem_class of)
{
  *problems = (struct problems){.arena = arena, .of = of};
}

static const char *message_cut(struct arena *arena, char *message)
{
  if (strlen(message) <= MESSAGE_CUT)
    return message;
  size_t end = MESSAGE_CUT;
  while (end > 0 && ((unsigned char)message[end] & 0xC0u) == 0x80u)
    end--;
  return arena_print(arena, "%.*s...", (int)end, message);
}

bool problems_add(struct problems *problems, struct place place, const char *format, ...)
{
  problems->seen[problems->of] = true;
  if (problems->count >= LIMIT_PROBLEMS) {
    problems->dropped++;
    return false;
  }
  va_list args;
  va_start(args, format);
  const char *message = message_cut(problems->arena, arena_vprint(problems->arena, format, args));
  va_end(args);
  problems->items =
      arena_grow(problems->arena, problems->items, problems->count, &problems->capacity, sizeof *problems->items);
  problems->items[problems->count++] = (struct problem){problems->of, place, message, NULL};
  return false;
}

void problems_hint(struct problems *problems, const char *format, ...)
{
  if (problems->count == 0 || problems->dropped > 0)
    return;
  va_list args;
  va_start(args, format);
  problems->items[problems->count - 1].hint = message_cut(problems->arena, arena_vprint(problems->arena, format, args));
  va_end(args);
}

static bool goes_before(const struct problem *a, const struct problem *b)
{
  if (a->place.source != b->place.source)
    return a->place.source < b->place.source;
  return a->place.start < b->place.start;
}

/* Insertion: stable, and there are never more than LIMIT_PROBLEMS. */
void problems_sort(struct problems *problems)
{
  for (size_t i = 1; i < problems->count; i++) {
    struct problem moving = problems->items[i];
    size_t to = i;
    for (; to > 0 && goes_before(&moving, &problems->items[to - 1]); to--)
      problems->items[to] = problems->items[to - 1];
    problems->items[to] = moving;
  }
}

bool problems_has(const struct problems *problems, enum problem_class of)
{
  return problems->seen[of];
}
