/* A board that drives a motor controller: controls on the ADC, a 12-bit DAC on two wires, a status LED, the
 * watchdog. What it does with the readings is in ../core; which pin is which in config.h.
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
#include "led.h"

#ifdef BLOCK
#define PP_BLOCK_STORAGE PROGMEM
#include BLOCK
#endif

/* Kept over a reset but not over a loss of power: why the core had stopped. */
#define STOPPED_MARK 0x5AC3u
static struct {
    uint16_t mark;
    uint8_t cause, not_cause;
} last_stop __attribute__((section(".noinit")));

static struct pp_core core;

static void read_block(uint16_t at, void *into, uint8_t bytes)
{
#ifdef BLOCK
    for (uint8_t *to = into; bytes > 0; bytes--, at++)
        *to++ = at < sizeof pp_block ? pgm_read_byte(&pp_block[at]) : 0xFFu;
#else
    eeprom_read_block(into, (const void *)at, bytes);
#endif
}

static uint16_t input_code(uint8_t input)
{
    static const uint8_t channels[PP_MAX_INPUTS] = {INPUT_PINS};
    return adc_read(channels[input]);
}

static void kick_watchdog(void)
{
    wdt_reset();
}

/* A stop lasts until power is cycled: no other reset ends it. A reset by the watchdog is a stop of its own. Where a
 * bootloader has cleared the cause of the reset, the mark alone decides. */
static enum pp_cause latched_cause(uint8_t reset_cause)
{
    enum pp_cause cause = PP_NO_CAUSE;
    if (reset_cause & (1u << PORF))
        last_stop.mark = 0;
    else if (last_stop.mark == STOPPED_MARK && (last_stop.cause ^ last_stop.not_cause) == 0xFFu)
        cause = (enum pp_cause)last_stop.cause;
    else if (reset_cause & (1u << WDRF))
        cause = PP_WATCHDOG;
    return cause;
}

static void latch(uint8_t cause)
{
    last_stop.cause = cause;
    last_stop.not_cause = (uint8_t)~cause;
    last_stop.mark = STOPPED_MARK;
}

static void start_ticking(void)
{
    TCCR0A = (uint8_t)(1u << WGM01); /* clear at OCR0A */
    OCR0A = (uint8_t)TICK_TOP;
    TCCR0B = (uint8_t)TICK_CLOCK;
}

static void wait_for_tick(void)
{
    while (!(TICK_FLAGS & (1u << OCF0A)))
        ;
    TICK_FLAGS = (uint8_t)(1u << OCF0A);
}

int main(void)
{
    static const struct pp_board board = {.read_block = read_block,
                                          .input_code = input_code,
                                          .write_dac = dac_write,
                                          .kick_watchdog = kick_watchdog,
                                          .rate_hz = RATE_HZ,
                                          .adc_bits = ADC_BITS,
                                          .dac_bits = DAC_BITS};

    dac_write(0); /* before anything else */
    uint8_t reset_cause = MCUSR;
    MCUSR = 0;
    wdt_enable(WDTO_30MS);
#ifdef CLKPR
    CLKPR = (uint8_t)(1u << CLKPCE); /* undivided, however it is fused */
    CLKPR = 0;
#endif
    led_start();
    adc_start();
    start_ticking();
    for (uint16_t left = SETTLE_STEPS; left > 0; left--) {
        wait_for_tick();
        dac_write(0);
        wdt_reset();
    }
    pp_start(&core, &board, latched_cause(reset_cause));
    for (;;) {
        if (core.state == PP_STOPPED)
            latch(core.cause);
        wait_for_tick();
        pp_step(&core);
        led_show(core.state, core.cause);
    }
}
