/* A board that drives a motor controller: controls on the ADC, a 12-bit DAC on two wires, an enable line, a status LED,
 * the watchdog. What it does with the readings is in ../core; which pin is which in config.h.
 *
 * The block of constants lies in the EEPROM from address 0, or in flash when this is built with BLOCK=file.h. */
#include <avr/eeprom.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/wdt.h>

#include "adc.h"
#include "blend.h"
#include "config.h"
#include "dac.h"
#include "enable.h"
#include "led.h"
#include "mark.h"

#ifdef BLOCK
#define PP_BLOCK_STORAGE PROGMEM
#include BLOCK
#endif

/* So many steps in a row that were not done in time are no hiccup: all times that the constants promise would stretch. */
#define LATE_STEPS 8

/* A pin too few would be channel 0 again. */
typedef char pins_for_all_inputs[sizeof((uint8_t[]){INPUT_PINS}) == PP_MAX_INPUTS ? 1 : -1];

static struct pp_core core;

void pp_read_block(uint16_t at, void *into, uint8_t bytes)
{
#ifdef BLOCK
    for (uint8_t *to = into; bytes > 0; bytes--, at++)
        *to++ = at < sizeof pp_block ? pgm_read_byte(&pp_block[at]) : 0xFFu;
#else
    eeprom_read_block(into, (const void *)at, bytes);
#endif
}

uint16_t pp_input_code(uint8_t input)
{
    static const uint8_t channels[PP_MAX_INPUTS] = {INPUT_PINS};
    return adc_read(channels[input]);
}

void pp_kick_watchdog(void)
{
    wdt_reset();
}

uint16_t pp_supply_code(void)
{
    return adc_read_reference();
}

uint16_t pp_read_back(void)
{
#ifdef READ_BACK_CHANNEL
    return (uint16_t)(adc_read(READ_BACK_CHANNEL) << (DAC_BITS - ADC_BITS));
#else
    return core.written; /* no such wire */
#endif
}

bool pp_write_dac(uint16_t code)
{
    return dac_write(code);
}

/* The mark stands before the line moves. */
void pp_pulse(void)
{
    mark_running();
    enable_pulse();
}

static void start_ticking(void)
{
    TCCR0A = (uint8_t)(1u << WGM01); /* clear at OCR0A */
    OCR0A = (uint8_t)TICK_TOP;
    TCCR0B = (uint8_t)TICK_CLOCK;
}

static bool has_ticked(void)
{
    return (TICK_FLAGS & (1u << OCF0A)) != 0;
}

static void wait_for_tick(void)
{
    while (!has_ticked())
        ;
    TICK_FLAGS = (uint8_t)(1u << OCF0A);
}

/* The DAC must come up with 0 when power comes back. As delivered it does not: then 0 is stored, once a start. */
static enum pp_cause dac_cause(void)
{
    bool is_zero;

    if (!dac_wakes_at_zero(&is_zero))
        return PP_DAC;
    if (is_zero)
        return PP_NO_CAUSE;
    if (!dac_store_zero())
        return PP_DAC;
    for (uint16_t left = STORE_STEPS; left > 0; left--) {
        wait_for_tick();
        wdt_reset();
    }
    if (!dac_wakes_at_zero(&is_zero))
        return PP_DAC;
    return is_zero ? PP_NO_CAUSE : PP_DAC_MEMORY;
}

int main(void)
{
    static const struct pp_board board = {.rate_hz = RATE_HZ, .adc_bits = ADC_BITS, .dac_bits = DAC_BITS};

    dac_write(0); /* before anything else */
    uint8_t reset_cause = MCUSR;
    MCUSR = 0;
    wdt_enable(WDTO_30MS);
#ifdef CLKPR
    CLKPR = (uint8_t)(1u << CLKPCE); /* undivided, however it is fused */
    CLKPR = 0;
#endif
    enable_start();
    led_start();
    adc_start();
    start_ticking();
    for (uint16_t left = SETTLE_STEPS; left > 0; left--) {
        wait_for_tick();
        dac_write(0);
        wdt_reset();
    }
    enum pp_cause cause = mark_read(reset_cause);
    if (cause == PP_NO_CAUSE)
        cause = dac_cause();
    pp_start(&core, &board, cause);
    wait_for_tick();
    for (uint8_t late = 0;;) {
        late = has_ticked() ? (uint8_t)(late + 1) : 0;
        if (late >= LATE_STEPS && core.state != PP_STOPPED)
            pp_become(&core, PP_STOPPED, PP_WATCHDOG);
        if (core.state == PP_STOPPED)
            mark_stopped(core.cause);
        wait_for_tick();
        pp_step(&core);
        led_show(core.state, core.cause, core.start_seen > 0);
    }
}
