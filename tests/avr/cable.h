/* The cable between the simulated board and the program: a pseudo-terminal.
 *
 * Bytes wait while a program has the port open (so a slow machine loses nothing) and are thrown away while
 * nobody has, as with a serial adapter. */
#ifndef CABLE_H
#define CABLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Makes the pseudo-terminal and prints `PTY <path>` on stdout. Ends the process with 2 if it cannot. */
void cable_open(void);

/* Looks whether programs opened or closed the port since the last call; the number of openings. */
unsigned cable_openings(void);

/* Waits until a program opens the port. False when the parent went away instead. */
bool cable_wait_for_open(void);

/* Sends bytes, waiting for room as said above. False when the parent went away. */
bool cable_send(const uint8_t *bytes, size_t count);

/* Waits until the program has read everything. False when the parent went away. */
bool cable_drain(void);

/* False once stdin has ended: whoever started this process is gone. */
bool parent_is_there(void);

#endif
