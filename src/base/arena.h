/* Memory that is freed all at once. One arena a lifetime: program, pack, subject.
 * Not thread-safe: one thread an arena. Any room may include this.
 * Running out of memory ends the process in one place (arena.c) with status 5; input-driven growth is bounded
 * before that by base/limits.h. */
#ifndef KEYWAY_BASE_ARENA_H
#define KEYWAY_BASE_ARENA_H

#include "base/slice.h"

#include <stdarg.h>
#include <stddef.h>

struct arena;

/* A new arena; free with arena_free. */
struct arena *arena_new(void);
void arena_free(struct arena *arena);

/* Zeroed memory, aligned for any type, never NULL, owned by the arena. */
void *arena_alloc(struct arena *arena, size_t size);

/* count * size bytes, zeroed; refuses overflow as out of memory. */
void *arena_array(struct arena *arena, size_t count, size_t size);

/* Room for one more item in a growing array: returns the array, moved when it had to grow. *capacity counts items. */
void *arena_grow(struct arena *arena, void *items, size_t count, size_t *capacity, size_t size);

/* NUL-terminated copies; the slice's size leaves the NUL out. */
char *arena_text(struct arena *arena, struct slice text);
struct slice arena_slice(struct arena *arena, struct slice text);
char *arena_print(struct arena *arena, const char *format, ...) __attribute__((format(printf, 2, 3)));
char *arena_vprint(struct arena *arena, const char *format, va_list args) __attribute__((format(printf, 2, 0)));

/* Calls function(context) when the arena goes, before its memory does; the last one added is called first. */
void arena_on_free(struct arena *arena, void (*function)(void *context), void *context);

/* Bytes handed out so far, for --stats. */
size_t arena_used(const struct arena *arena);

#define ARENA_NEW(arena, type) ((type *)arena_alloc((arena), sizeof(type)))
#define ARENA_ARRAY(arena, count, type) ((type *)arena_array((arena), (count), sizeof(type)))

#endif
