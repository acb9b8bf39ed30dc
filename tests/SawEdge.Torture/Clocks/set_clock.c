/*
 * Stands between a program and the system's wall clock and adds what a file says, while the monotonic clock stays as it is: what a person, or
 * a time server, does to a machine's clock. The file holds one number, 64 bit, nanoseconds; it is mapped, so that a look at the clock costs no call.
 * Debian's faketime does the same and more; a runtime that waits by the monotonic clock spins under it.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

static const long long second = 1000000000LL;
static volatile int64_t *offset;
static int (*real_clock)(clockid_t, struct timespec *);

__attribute__((constructor)) static void begin(void)
{
    const char *file = getenv("TORTURE_CLOCK");
    int descriptor = file == NULL ? -1 : open(file, O_RDONLY | O_CLOEXEC);
    real_clock = (int (*)(clockid_t, struct timespec *))dlsym(RTLD_NEXT, "clock_gettime");
    if (descriptor < 0)
        return;
    void *mapped = mmap(NULL, sizeof(int64_t), PROT_READ, MAP_SHARED, descriptor, 0);
    close(descriptor);
    if (mapped != MAP_FAILED)
        offset = mapped;
}

int clock_gettime(clockid_t which, struct timespec *now)
{
    if (real_clock == NULL)
        begin();
    int result = real_clock(which, now);
    if (result == 0 && offset != NULL && (which == CLOCK_REALTIME || which == CLOCK_REALTIME_COARSE))
    {
        long long nanoseconds = now->tv_sec * second + now->tv_nsec + *offset;
        now->tv_sec = nanoseconds / second;
        now->tv_nsec = nanoseconds % second;
    }

    return result;
}

int gettimeofday(struct timeval *restrict now, void *restrict zone)
{
    struct timespec precise;
    (void)zone;
    int result = clock_gettime(CLOCK_REALTIME, &precise);
    now->tv_sec = precise.tv_sec;
    now->tv_usec = precise.tv_nsec / 1000;
    return result;
}

time_t time(time_t *now)
{
    struct timespec precise;
    clock_gettime(CLOCK_REALTIME, &precise);
    if (now != NULL)
        *now = precise.tv_sec;
    return precise.tv_sec;
}
