/* The version of the program. Included by cli/. */
#ifndef KEYWAY_CLI_VERSION_H
#define KEYWAY_CLI_VERSION_H

#define KEYWAY_VERSION "0.1.0"

#endif
