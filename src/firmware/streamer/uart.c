#include "uart.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include "config.h"

/* 256 bytes, so that the 8-bit positions wrap by themselves. The main loop owns `head`, `draft` and
 * `no_room`; the interrupt owns `tail`. One byte stays free to tell full from empty. */
static volatile uint8_t ring[256];
static volatile uint8_t head; /* end of the finished lines */
static volatile uint8_t tail; /* next byte to send */
static uint8_t draft;         /* end of the line being written, not yet visible to the interrupt */
static bool no_room;

void uart_start(void)
{
    UCSR0A = (uint8_t)(1u << U2X0);
    UCSR0C = (uint8_t)((1u << UCSZ01) | (1u << UCSZ00));
    UBRR0H = (uint8_t)(UART_DIVIDER >> 8);
    UBRR0L = (uint8_t)(UART_DIVIDER & 0xFFu);
    UCSR0B = (uint8_t)(1u << TXEN0);
}

void uart_line_begin(void)
{
    draft = head;
    no_room = false;
}

void uart_line_put(uint8_t byte)
{
    uint8_t next = (uint8_t)(draft + 1u);
    /* Once full, always full: room that the interrupt makes in mid-line must not let the rest in. */
    if (no_room || next == tail) {
        no_room = true;
        return;
    }
    ring[draft] = byte;
    draft = next;
}

bool uart_line_end(void)
{
    if (no_room)
        return false;
    head = draft;
    /* Not atomic, and need not be: the interrupt only ever clears this bit, and does so again. */
    UCSR0B |= (uint8_t)(1u << UDRIE0);
    return true;
}

ISR(USART_UDRE_vect)
{
    uint8_t at = tail;
    if (at == head) {
        UCSR0B &= (uint8_t) ~(1u << UDRIE0);
    } else {
        UDR0 = ring[at];
        tail = (uint8_t)(at + 1u);
    }
}
