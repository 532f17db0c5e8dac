#include "led.h"

#include "blend.h"
#include "config.h"

#ifdef LED_PORT

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

void led_show(uint8_t state, uint8_t cause, bool at_zero)
{
    static uint16_t steps;
    static uint8_t slot;
    bool on = true; /* running */

    if (++steps >= STEPS_A_SLOT) {
        steps = 0;
        slot++;
    }
    if (state == PP_WAITING) {
        on = at_zero ? (slot & 2u) == 0 : steps < STEPS_A_SLOT / 2;
    } else if (state == PP_STOPPED) {
        uint8_t flashes = (uint8_t)(cause << 1);
        if (slot >= flashes + PAUSE_SLOTS)
            slot = 0;
        on = slot < flashes && (slot & 1u) == 0;
    }
    light(on);
}

#else

void led_start(void)
{
}

void led_show(uint8_t state, uint8_t cause, bool at_zero)
{
    (void)state;
    (void)cause;
    (void)at_zero;
}

#endif
