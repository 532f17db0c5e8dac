/* What the board is: pins, clock, rate. Each can be set from the Makefile.
 *
 *                  ATmega328P, 16 MHz crystal      ATtiny85, 8 MHz inside
 *     input 0      A0 (PC0)                        PB3
 *     input 1      A1 (PC1)                        PB4, unless INPUTS=1
 *     input 2      A2 (PC2)                        none
 *     read-back    A3 (PC3)                        PB4 when INPUTS=1, else none
 *     DAC          SDA A4 (PC4), SCL A5 (PC5)      SDA PB0, SCL PB2
 *     enable line  D7 (PD7)                        PB1
 *     status LED   D13 (PB5)                       none */
#ifndef CONFIG_H
#define CONFIG_H

#include <avr/io.h>

/* Steps a second; the block must be made for the same. */
#ifndef RATE_HZ
#define RATE_HZ 1000
#endif

/* Address of the DAC, 7 bits: 0x60 to 0x67 is usual. */
#ifndef DAC_ADDRESS
#define DAC_ADDRESS 0x60
#endif

/* What the DAC's own memory takes to be written, in steps. */
#define STORE_STEPS (RATE_HZ / 16 + 1)

/* What power-up takes until the controls' own supplies are steady, in steps. The output is zero meanwhile. */
#ifndef SETTLE_STEPS
#define SETTLE_STEPS (RATE_HZ / 10)
#endif

#if defined(__AVR_ATmega328P__) || defined(__AVR_ATmega328__)

#ifndef F_CPU
#define F_CPU 16000000UL
#endif
#ifndef INPUT_PINS
#define INPUT_PINS 0, 1, 2 /* ADC channels, in the order of the block's inputs: PP_MAX_INPUTS of them */
#endif
#ifndef READ_BACK_CHANNEL
#define READ_BACK_CHANNEL 3
#endif
#define ADC_REFERENCE (1u << REFS0) /* AVCC */
#define OWN_REFERENCE 14u           /* the part's 1.1 V, as an ADC channel */
#define ENABLE_PIN PIND
#define ENABLE_DDR DDRD
#define ENABLE_BIT PD7
#define MARK_ADDRESS 0x0500 /* above the memory of program and bootloaders, below every stack */
#define DAC_PORT PORTC
#define DAC_DDR DDRC
#define DAC_PIN PINC
#define DAC_SDA PC4
#define DAC_SCL PC5
#define LED_PORT PORTB
#define LED_DDR DDRB
#define LED_BIT PB5
#define TICK_FLAGS TIFR0

#elif defined(__AVR_ATtiny85__)

#ifndef F_CPU
#define F_CPU 8000000UL
#elif F_CPU != 8000000UL
#error "an ATtiny85 runs at 8 MHz here: the program sets its clock divider to 1"
#endif
#if PP_MAX_INPUTS == 1
#ifndef INPUT_PINS
#define INPUT_PINS 3 /* ADC3 is PB3 */
#endif
#ifndef READ_BACK_CHANNEL
#define READ_BACK_CHANNEL 2 /* ADC2 is PB4 */
#endif
#elif !defined INPUT_PINS
#define INPUT_PINS 3, 2 /* no pin is left for the read-back */
#endif
#define ADC_REFERENCE 0u  /* VCC */
#define OWN_REFERENCE 12u /* the part's 1.1 V, as an ADC channel */
#define ENABLE_PIN PINB
#define ENABLE_DDR DDRB
#define ENABLE_BIT PB1
#define MARK_ADDRESS 0x01F0 /* above the program's memory, below the stack */
#define DAC_PORT PORTB
#define DAC_DDR DDRB
#define DAC_PIN PINB
#define DAC_SDA PB0
#define DAC_SCL PB2
#define TICK_FLAGS TIFR

#else
#error "no pins are given for this part: add them here"
#endif

/* The ADC wants 50 to 200 kHz. */
#if F_CPU > 25600000UL || F_CPU < 6400000UL
#error "F_CPU must be 6.4 to 25.6 MHz: at another clock the ADC's codes are wrong"
#elif F_CPU > 12800000UL
#define ADC_CLOCK ((1u << ADPS2) | (1u << ADPS1) | (1u << ADPS0)) /* F_CPU / 128 */
#else
#define ADC_CLOCK ((1u << ADPS2) | (1u << ADPS1)) /* F_CPU / 64 */
#endif

#if RATE_HZ < 1000
#error "RATE_HZ must be 1000 or more: at fewer steps the enable line's pump does not surely hold its relay"
#endif

/* Timer 0 ticks RATE_HZ times a second: F_CPU / 64 or F_CPU / 256, counted to TICK_TOP. */
#if F_CPU / 64 / RATE_HZ <= 256
#define TICK_DIVIDER 64
#define TICK_CLOCK ((1u << CS01) | (1u << CS00))
#elif F_CPU / 256 / RATE_HZ <= 256
#define TICK_DIVIDER 256
#define TICK_CLOCK (1u << CS02)
#else
#error "RATE_HZ is too low for timer 0"
#endif
#define TICK_TOP (F_CPU / TICK_DIVIDER / RATE_HZ - 1)
#if (TICK_TOP + 1) * TICK_DIVIDER * RATE_HZ != F_CPU
#error "RATE_HZ does not divide the clock: the block's times would be wrong"
#endif

#endif
