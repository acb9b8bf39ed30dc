/* For LD_PRELOAD: lets the files whose path begins with TORTURE_DISK_FILES fail as a worn or read-only disk does. What they do at a moment stands in a
   file of four numbers (TORTURE_DISK_CONTROL), which the trial writes: mode, one call in so many fails, seed, calls that failed so far.

   mode 0: a good disk. 1: read-only: everything that would write is refused with EROFS. 2: reads, writes and syncs fail with EIO now and then; of a
   write that fails a half may be on the disk. 3: syncs fail with EIO now and then, all else is well. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/types.h>
#include <unistd.h>

struct control { volatile uint32_t mode, one_in, seed, failed; };

static struct control *control;
static const char *files;
static uint32_t state;

#define REAL(type, name, ...) \
    static type (*real_##name)(__VA_ARGS__); \
    if (!real_##name) *(void **)&real_##name = dlsym(RTLD_NEXT, #name)

__attribute__((constructor)) static void begin(void)
{
    const char *path = getenv("TORTURE_DISK_CONTROL");
    files = getenv("TORTURE_DISK_FILES");
    if (!path || !files) return;
    int fd = open(path, O_RDWR | O_CLOEXEC);
    if (fd < 0) { perror(path); abort(); }
    void *map = mmap(NULL, sizeof(struct control), PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    close(fd);
    if (map == MAP_FAILED) { perror(path); abort(); }
    control = map;
    state = control->seed;
}

static int is_ours(const char *path) { return path && strncmp(path, files, strlen(files)) == 0; }

static int fd_is_ours(int fd)
{
    char link[64], path[PATH_MAX];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length < 0) return 0;
    path[length] = 0;
    return is_ours(path);
}

/* splitmix32 */
static uint32_t draw(void)
{
    uint32_t z = __sync_add_and_fetch(&state, 0x9e3779b9u);
    z = (z ^ (z >> 16)) * 0x21f0aaadu;
    z = (z ^ (z >> 15)) * 0x735a2d97u;
    return z ^ (z >> 15);
}

static int strikes(void)
{
    uint32_t one_in = control->one_in;
    return one_in && draw() % one_in == 0;
}

static int fails(int error)
{
    __sync_add_and_fetch(&control->failed, 1);
    errno = error;
    return -1;
}

static int mode_of(int fd) { return control && control->mode && fd_is_ours(fd) ? (int)control->mode : 0; }

static int refuses_open(const char *path, int flags)
{
    if (!control || control->mode != 1 || !is_ours(path)) return 0;
    return (flags & O_ACCMODE) != O_RDONLY || (flags & (O_CREAT | O_TRUNC));
}

#define OPEN(name) \
    int name(const char *path, int flags, ...) \
    { \
        REAL(int, name, const char *, int, mode_t); \
        va_list rest; \
        va_start(rest, flags); \
        mode_t mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(rest, mode_t) : 0; \
        va_end(rest); \
        return refuses_open(path, flags) ? fails(EROFS) : real_##name(path, flags, mode); \
    }
OPEN(open)
OPEN(open64)

#define PWRITE(name, offset_type) \
    ssize_t name(int fd, const void *data, size_t count, offset_type offset) \
    { \
        REAL(ssize_t, name, int, const void *, size_t, offset_type); \
        switch (mode_of(fd)) { \
        case 1: return fails(EROFS); \
        case 2: \
            if (strikes()) { \
                if (draw() & 1) (void)!real_##name(fd, data, count / 2, offset); \
                return fails(EIO); \
            } \
        } \
        return real_##name(fd, data, count, offset); \
    }
PWRITE(pwrite, off_t)
PWRITE(pwrite64, off64_t)

ssize_t write(int fd, const void *data, size_t count)
{
    REAL(ssize_t, write, int, const void *, size_t);
    switch (mode_of(fd)) {
    case 1: return fails(EROFS);
    case 2: if (strikes()) return fails(EIO);
    }
    return real_write(fd, data, count);
}

#define PREAD(name, offset_type) \
    ssize_t name(int fd, void *data, size_t count, offset_type offset) \
    { \
        REAL(ssize_t, name, int, void *, size_t, offset_type); \
        return mode_of(fd) == 2 && strikes() ? fails(EIO) : real_##name(fd, data, count, offset); \
    }
PREAD(pread, off_t)
PREAD(pread64, off64_t)

#define SYNC(name) \
    int name(int fd) \
    { \
        REAL(int, name, int); \
        return mode_of(fd) >= 2 && strikes() ? fails(EIO) : real_##name(fd); \
    }
SYNC(fsync)
SYNC(fdatasync)

#define TRUNCATE(name, offset_type) \
    int name(int fd, offset_type length) \
    { \
        REAL(int, name, int, offset_type); \
        switch (mode_of(fd)) { \
        case 1: return fails(EROFS); \
        case 2: if (strikes()) return fails(EIO); \
        } \
        return real_##name(fd, length); \
    }
TRUNCATE(ftruncate, off_t)
TRUNCATE(ftruncate64, off64_t)

int unlink(const char *path)
{
    REAL(int, unlink, const char *);
    return control && control->mode == 1 && is_ours(path) ? fails(EROFS) : real_unlink(path);
}
