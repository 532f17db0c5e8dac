/* The status LED.
 *
 *     waiting   half a second on, half a second off
 *     running   on
 *     stopped   as many short flashes as the number of the cause (core/BLOCK.md, core/blend.h), then a pause */
#ifndef LED_H
#define LED_H

#include <stdint.h>

void led_start(void);

/* Once a step. */
void led_show(uint8_t state, uint8_t cause);

#endif
