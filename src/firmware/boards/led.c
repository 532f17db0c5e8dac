#include "led.h"

#include <stdbool.h>

#include "blend.h"
#include "config.h"

/* Time goes in slots of a quarter of a second. */
#define STEPS_A_SLOT (RATE_HZ / 4)
#define PAUSE_SLOTS 6

static void light(bool on)
{
    if (on)
        LED_PORT |= (uint8_t)(1u << LED_BIT);
    else
        LED_PORT &= (uint8_t)~(1u << LED_BIT);
}

void led_start(void)
{
    LED_DDR |= (uint8_t)(1u << LED_BIT);
}

void led_show(uint8_t state, uint8_t cause)
{
    static uint16_t steps;
    static uint8_t slot;
    bool on = true; /* running */

    if (++steps >= STEPS_A_SLOT) {
        steps = 0;
        slot++;
    }
    if (state == PP_WAITING) {
        on = (slot & 2u) == 0;
    } else if (state == PP_STOPPED) {
        uint8_t flashes = (uint8_t)(cause << 1);
        if (slot >= flashes + PAUSE_SLOTS)
            slot = 0;
        on = slot < flashes && (slot & 1u) == 0;
    }
    light(on);
}
