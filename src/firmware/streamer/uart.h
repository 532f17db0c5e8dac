/* Whole lines out of the serial port, in the background.
 *
 * Belongs here: the port, the ring buffer, and the rule that a line goes out whole or not at all.
 * Does not belong here: what a line says. */
#ifndef UART_H
#define UART_H

#include <stdbool.h>
#include <stdint.h>

/* 8 data bits, no parity, one stop bit, at BAUD; transmit only. Interrupts are enabled by the caller. */
void uart_start(void);

/* Begins a new line; an unfinished one is forgotten. */
void uart_line_begin(void);

/* Adds one byte to the line. */
void uart_line_put(uint8_t byte);

/* Hands the line over for sending. False when the buffer had no room for all of it: then none of it
 * is sent. */
bool uart_line_end(void);

#endif
