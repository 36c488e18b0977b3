/* Memory that is freed all at once. Blocks come from calloc, so that fresh memory is zeroed without being touched: a
 * log of a gigabyte costs pages only where it is written. Small pieces are cut from the block in use; a large piece
 * gets a block of its own behind it. Reading order: arena_alloc, then block_new, then the copies. */
#include "base/arena.h"

#include <stdalign.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#define BLOCK_FIRST (16u * 1024)
#define BLOCK_LARGEST (1024u * 1024)
#define EXIT_FAULT 5 /* "a fault of the program itself" */

struct block {
  struct block *next;
  size_t size, used; /* of the bytes behind the head */
};

struct ending {
  struct ending *next;
  void (*function)(void *context);
  void *context;
};

struct arena {
  struct block *blocks;   /* the block in use first */
  struct ending *endings; /* the last one added first */
  size_t next_size;
  size_t used;
};

#define HEAD_SIZE ((sizeof(struct block) + alignof(max_align_t) - 1) / alignof(max_align_t) * alignof(max_align_t))

/* The one place where running out of memory ends. */
static _Noreturn void out_of_memory(void)
{
  fputs("keyway: out of memory\n", stderr);
  exit(EXIT_FAULT);
}

static struct block *block_new(size_t size)
{
  struct block *block = size <= SIZE_MAX - HEAD_SIZE ? calloc(1, HEAD_SIZE + size) : NULL;
  if (block == NULL)
    out_of_memory();
  block->size = size;
  return block;
}

static void *block_take(struct block *block, size_t size)
{
  void *at = (char *)block + HEAD_SIZE + block->used;
  block->used += size;
  return at;
}

struct arena *arena_new(void)
{
  struct arena *arena = calloc(1, sizeof *arena);
  if (arena == NULL)
    out_of_memory();
  arena->next_size = BLOCK_FIRST;
  return arena;
}

void arena_free(struct arena *arena)
{
  if (arena == NULL)
    return;
  for (const struct ending *ending = arena->endings; ending != NULL; ending = ending->next)
    ending->function(ending->context);
  for (struct block *block = arena->blocks; block != NULL;) {
    struct block *next = block->next;
    free(block);
    block = next;
  }
  free(arena);
}

static size_t rounded(size_t size)
{
  return (size + alignof(max_align_t) - 1) / alignof(max_align_t) * alignof(max_align_t);
}

void *arena_alloc(struct arena *arena, size_t size)
{
  if (size > SIZE_MAX / 2)
    out_of_memory();
  size = size == 0 ? 1 : size;
  size = rounded(size);
  arena->used += size;
  struct block *top = arena->blocks;
  if (top != NULL && top->size - top->used >= size)
    return block_take(top, size);
  if (top != NULL && size > arena->next_size / 4) {
    struct block *own = block_new(size);
    own->next = top->next;
    top->next = own;
    return block_take(own, size);
  }
  struct block *fresh = block_new(size > arena->next_size ? size : arena->next_size);
  fresh->next = top;
  arena->blocks = fresh;
  if (arena->next_size < BLOCK_LARGEST)
    arena->next_size *= 2;
  return block_take(fresh, size);
}

void *arena_array(struct arena *arena, size_t count, size_t size)
{
  /* Small by far: no division. */
  if ((count > UINT16_MAX || size > UINT16_MAX) && size != 0 && count > SIZE_MAX / size)
    out_of_memory();
  return arena_alloc(arena, count * size);
}

/* When nothing was taken since, and the block has room. */
static bool grow_in_place(struct arena *arena, const void *items, size_t size, size_t wanted)
{
  struct block *top = arena->blocks;
  size_t more = rounded(wanted) - rounded(size);
  const char *end = (const char *)top + HEAD_SIZE + top->used;
  if ((const char *)items + rounded(size) != end || top->size - top->used < more)
    return false;
  top->used += more;
  arena->used += more;
  return true;
}

void *arena_grow(struct arena *arena, void *items, size_t count, size_t *capacity, size_t size)
{
  if (count < *capacity)
    return items;
  if (count > SIZE_MAX / 4)
    out_of_memory();
  size_t wanted = count < 8 ? 8 : count * 2;
  if (*capacity > 0 && size <= UINT16_MAX && grow_in_place(arena, items, *capacity * size, wanted * size)) {
    *capacity = wanted;
    return items;
  }
  void *moved = arena_array(arena, wanted, size);
  if (count > 0)
    memcpy(moved, items, count * size);
  *capacity = wanted;
  return moved;
}

char *arena_text(struct arena *arena, struct slice text)
{
  char *copy = arena_alloc(arena, text.size + 1);
  if (text.size > 0)
    memcpy(copy, text.at, text.size);
  return copy;
}

struct slice arena_slice(struct arena *arena, struct slice text)
{
  return (struct slice){arena_text(arena, text), text.size};
}

char *arena_vprint(struct arena *arena, const char *format, va_list args)
{
  va_list again;
  va_copy(again, args);
  int size = vsnprintf(NULL, 0, format, args);
  /* Only a text of more than INT_MAX bytes can fail here. */
  if (size < 0)
    out_of_memory();
  char *text = arena_alloc(arena, (size_t)size + 1);
  vsnprintf(text, (size_t)size + 1, format, again);
  va_end(again);
  return text;
}

char *arena_print(struct arena *arena, const char *format, ...)
{
  va_list args;
  va_start(args, format);
  char *text = arena_vprint(arena, format, args);
  va_end(args);
  return text;
}

void arena_on_free(struct arena *arena, void (*function)(void *context), void *context)
{
  struct ending *ending = ARENA_NEW(arena, struct ending);
  *ending = (struct ending){arena->endings, function, context};
  arena->endings = ending;
}

size_t arena_used(const struct arena *arena)
{
  return arena->used;
}
