/* A clock that can be wrong, put before the system's with LD_PRELOAD.
 *
 * CLOCK_AT is the moment at which the program begins, in seconds since 1970; from
 * its CLOCK_COUNT-th look at the clock on, CLOCK_JUMP seconds are added. Only the
 * clock of the day is changed, not the one that measures how long something takes.
 */
#define _GNU_SOURCE
#include <stdatomic.h>
#include <stdlib.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

static atomic_long looks;

static long number(const char *name, long otherwise)
{
    const char *text = getenv(name);
    return text == NULL ? otherwise : atol(text);
}

int clock_gettime(clockid_t clock, struct timespec *now)
{
    int code = (int)syscall(SYS_clock_gettime, clock, now);
    if (code != 0 || clock != CLOCK_REALTIME)
        return code;
    long count = atomic_fetch_add(&looks, 1) + 1;
    now->tv_sec = number("CLOCK_AT", now->tv_sec);
    if (count >= number("CLOCK_COUNT", 1))
        now->tv_sec += number("CLOCK_JUMP", 0);
    return 0;
}
