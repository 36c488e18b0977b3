/* A short drive in a sound car, and the faults that only a log shows. */
#include "faults.h"

#include <string.h>

void car_log(struct car *car)
{
  car->with_log = car->log.rows > 0;
}

const struct fault log_faults[] = {{0}};
