#define _GNU_SOURCE
#include "cable.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/inotify.h>
#include <termios.h>
#include <unistd.h>

static int master, slave, watch;
static int users; /* programs that have the port open now */

static void fail(const char *what)
{
    perror(what);
    exit(2);
}

void cable_open(void)
{
    struct termios raw = {0};
    char path[256];

    cfmakeraw(&raw); /* or a fresh slave echoes what we send back to us */
    raw.c_cflag |= CREAD | CLOCAL;
    /* The slave stays open here: otherwise the terminal would be gone whenever no program has it. */
    if (openpty(&master, &slave, path, &raw, NULL) != 0)
        fail("openpty");
    if (fcntl(master, F_SETFL, O_NONBLOCK) != 0)
        fail("fcntl");
    watch = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
    if (watch < 0 || inotify_add_watch(watch, path, IN_OPEN | IN_CLOSE) < 0)
        fail("inotify");
    printf("PTY %s\n", path);
    fflush(stdout);
}

unsigned cable_openings(void)
{
    _Alignas(struct inotify_event) char events[4096];
    unsigned opened = 0;
    ssize_t length;

    while ((length = read(watch, events, sizeof events)) > 0) {
        for (char *at = events; at < events + length;) {
            const struct inotify_event *event = (const struct inotify_event *)at;
            if (event->mask & IN_OPEN) {
                users++;
                opened++;
            }
            if ((event->mask & IN_CLOSE) && users > 0)
                users--;
            at += sizeof *event + event->len;
        }
    }
    return opened;
}

bool parent_is_there(void)
{
    struct pollfd in = {.fd = STDIN_FILENO, .events = POLLIN};
    char ignored[64];

    if (poll(&in, 1, 0) <= 0)
        return true;
    return read(STDIN_FILENO, ignored, sizeof ignored) > 0;
}

bool cable_wait_for_open(void)
{
    while (cable_openings() == 0) {
        struct pollfd either[] = {{.fd = watch, .events = POLLIN}, {.fd = STDIN_FILENO, .events = POLLIN}};
        poll(either, 2, -1);
        if (!parent_is_there())
            return false;
    }
    return true;
}

bool cable_send(const uint8_t *bytes, size_t count)
{
    while (count > 0) {
        ssize_t sent = write(master, bytes, count);
        if (sent > 0) {
            bytes += sent;
            count -= (size_t)sent;
            continue;
        }
        if (sent < 0 && errno != EAGAIN && errno != EINTR)
            fail("write to the pseudo-terminal");
        cable_openings();
        if (users == 0)
            return true; /* nobody listens: the rest is lost */
        struct pollfd room = {.fd = master, .events = POLLOUT};
        poll(&room, 1, 20);
        if (!parent_is_there())
            return false;
    }
    return true;
}

bool cable_drain(void)
{
    /* poll, not TIOCINQ: of bytes that the kernel still holds for the reader only poll moves them first (n_tty_poll in Linux). */
    struct pollfd unread = {.fd = slave, .events = POLLIN};

    while (poll(&unread, 1, 0) > 0) {
        cable_openings();
        if (users == 0)
            return true;
        usleep(5000);
        if (!parent_is_there())
            return false;
    }
    return true;
}
