/* See processors.h. */
#include "base/processors.h"

#include <unistd.h>

#define MOST 8

size_t processors_count(void)
{
  long count = sysconf(_SC_NPROCESSORS_ONLN);
  return count < 1 ? 1 : count > MOST ? MOST : (size_t)count;
}
