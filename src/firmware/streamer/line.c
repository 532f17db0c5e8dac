#include "line.h"

#include <avr/pgmspace.h>

#include "uart.h"

#define TEXT(value) TEXT_OF(value)
#define TEXT_OF(value) #value
#define NAME_OF(name, pin) "," #name

static const char header[] PROGMEM = "# pedalproof 1 bits=10 vref_mv=" TEXT(VREF_MV) " rate_hz=" TEXT(
    RATE_HZ) " cols=t_us" CHANNELS(NAME_OF);

/* With *HH and LF in place of the closing zero. A negative size stops the build. */
typedef char header_fits_in_a_line[sizeof(header) + 3 <= LINE_BYTES_MAX ? 1 : -1];

static uint8_t sum; /* XOR of the bytes of this line so far */

static void begin(void)
{
    sum = 0;
    uart_line_begin();
}

static void put(uint8_t byte)
{
    sum ^= byte;
    uart_line_put(byte);
}

static uint8_t hex_digit(uint8_t nibble)
{
    return (uint8_t)(nibble < 10u ? '0' + nibble : 'A' + nibble - 10);
}

static bool end(void)
{
    uart_line_put('*');
    uart_line_put(hex_digit(sum >> 4));
    uart_line_put(hex_digit(sum & 0x0Fu));
    uart_line_put('\n');
    return uart_line_end();
}

/* Unsigned decimal by repeated subtraction: about a tenth of the cycles of dividing by ten. */
static void put_number(uint32_t value)
{
    static const uint32_t powers[] = {1000000000UL, 100000000UL, 10000000UL, 1000000UL, 100000UL,
                                      10000UL,      1000UL,      100UL,      10UL};
    bool started = false;
    for (uint8_t i = 0; i < sizeof(powers) / sizeof(powers[0]); i++) {
        uint8_t digit = '0';
        while (value >= powers[i]) {
            value -= powers[i];
            digit++;
        }
        started = started || digit != '0';
        if (started)
            put(digit);
    }
    put((uint8_t)('0' + value));
}

bool line_send_header(void)
{
    begin();
    for (uint8_t i = 0; i < sizeof(header) - 1; i++)
        put(pgm_read_byte(&header[i]));
    return end();
}

bool line_send_sample(const struct sample *sample)
{
    begin();
    put_number(sample->t_us);
    for (uint8_t i = 0; i < CHANNEL_COUNT; i++) {
        put(',');
        put_number(sample->codes[i]);
    }
    return end();
}
