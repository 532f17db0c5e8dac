/* The enable line: a square wave while the board runs, still at all other times. A diode pump behind it turns the changes
 * into the voltage that holds the relay in the controller's enable input (README.md): stuck high, stuck low, a hung
 * program, a dead clock and a part in reset all let go of it. */
#ifndef ENABLE_H
#define ENABLE_H

void enable_start(void);

/* Changes the level. */
void enable_pulse(void);

#endif
