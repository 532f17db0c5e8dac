/* What this streamer is built for: the only file to edit. Every value may also be given to make,
 * for instance `make BAUD=115200 CHANNELS='X(lever,3)'`.
 *
 * Belongs here: numbers that describe the board and the wiring, and the checks that they fit together.
 * Does not belong here: anything that acts. */
#ifndef CONFIG_H
#define CONFIG_H

/* CPU clock in Hz. */
#ifndef F_CPU
#define F_CPU 16000000UL
#endif

/* Serial rate in bits per second. 1 Mbaud divides 16 MHz exactly; 115200 comes out 2.1 % fast, which
 * every receiver tolerates. */
#ifndef BAUD
#define BAUD 1000000
#endif

/* Samples of all channels per second, 31 .. 1000 and a divisor of one million, so that t_us is exact.
 * A slow line cannot carry 1000 of them. */
#ifndef RATE_HZ
#if BAUD >= 500000
#define RATE_HZ 1000
#else
#define RATE_HZ 400
#endif
#endif

/* Voltage at AVCC and AREF in millivolts: measure it with a meter and put in what the meter says. */
#ifndef VREF_MV
#define VREF_MV 5000
#endif

/* X(name, pin): the column name and the ADC pin (0 .. 7 for A0 .. A7), in the order of sampling.
 * One to eight channels. */
#ifndef CHANNELS
#define CHANNELS(X) X(pedal_a, 0) X(pedal_b, 1)
#endif

/* The board's clock at power-up, microseconds. Anything but 0 is for tests of the wrap at 2^32. */
#ifndef T0_US
#define T0_US 0
#endif

/* OVERRUN, when defined, lets a rate through that the line cannot carry: samples will be missing. For the
 * test that then whole lines are missing and never parts. */

/* ---- what follows from the above ---- */

#define COUNT_ONE(name, pin) +1
#define CHANNEL_COUNT (0 CHANNELS(COUNT_ONE))

/* Timer 1 counts at F_CPU / 8. */
#define TIMER_TICKS (F_CPU / 8 / RATE_HZ)
#define PERIOD_US (1000000 / RATE_HZ)

/* The ADC runs at F_CPU / 128: 125 kHz at 16 MHz (data sheet: 50 .. 200 kHz for all ten bits). */
#define ADC_CLOCK_DIVIDER 128

/* UART at double speed: BAUD = F_CPU / 8 / (UART_DIVIDER + 1), rounded to the nearest. */
#define UART_DIVIDER ((F_CPU + 4UL * BAUD) / (8UL * BAUD) - 1)
#define UART_ACTUAL (F_CPU / 8 / (UART_DIVIDER + 1))

/* Longest sample line: ten digits of time, a comma and four digits a channel, *HH and LF. */
#define SAMPLE_BYTES_MAX (10 + 5 * CHANNEL_COUNT + 3 + 1)
#define LINE_BYTES_MAX 160

#if CHANNEL_COUNT < 1 || CHANNEL_COUNT > 8
#error "CHANNELS: one to eight channels, each X(name, pin)"
#endif
#if 1000000 % RATE_HZ != 0 || (F_CPU / 8) % RATE_HZ != 0
#error "RATE_HZ must divide one million and F_CPU / 8, or t_us would not be exact"
#endif
#if TIMER_TICKS > 65536
#error "RATE_HZ is too low for a 16-bit timer at F_CPU / 8"
#endif
#if CHANNEL_COUNT * 15 * ADC_CLOCK_DIVIDER > F_CPU / RATE_HZ
#error "RATE_HZ is too high: the ADC cannot convert that many channels in one period"
#endif
#if SAMPLE_BYTES_MAX * RATE_HZ + LINE_BYTES_MAX > BAUD / 10 && !defined(OVERRUN)
#error "BAUD cannot carry that many lines a second: lower RATE_HZ, raise BAUD or take out a channel"
#endif
#if UART_ACTUAL * 1000 > BAUD * 1025UL || UART_ACTUAL * 1000 < BAUD * 975UL
#error "BAUD cannot be made from F_CPU within 2.5 %: choose another rate"
#endif

#endif
