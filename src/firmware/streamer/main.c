/* Streamer for a bench board with an ATmega328P: prints every sample of its analogue inputs as one text
 * line, with a header line at power-up and once a second. It commands nothing.
 *
 * config.h says what it is built for, README.md how to wire, build and flash it. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "config.h"
#include "line.h"
#include "sampler.h"
#include "uart.h"

/* Sleeps until an interrupt, unless a sample is already waiting. The instruction after sei() is executed
 * before any interrupt, so none can slip in between and leave the board asleep. */
static void rest(void)
{
    cli();
    if (!sampler_ready()) {
        sei();
        sleep_cpu();
    }
    sei();
}

int main(void)
{
    uint16_t until_header = 0; /* samples */

    SMCR = (uint8_t)(1u << SE); /* sleep means idle: timer, ADC and UART go on */
    uart_start();
    sampler_start();
    sei();
    for (;;) {
        if (!sampler_ready()) {
            rest();
            continue;
        }
        struct sample sample = sampler_take();
        if (until_header == 0) {
            /* Without room for the header the sample is given up too: a line that is always too slow would
             * otherwise take every bit of room for samples, and nobody would ever see a header. */
            if (!line_send_header())
                continue;
            until_header = RATE_HZ;
        }
        until_header--;
        line_send_sample(&sample);
    }
}
