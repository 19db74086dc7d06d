/* Between a process and its disk: counts, kills, stalls and writes down what it does to files below
   one folder. Loaded with LD_PRELOAD by tests/faults/disk.py, which says what the words mean. */

#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static const char *folder, *how, *stall, *fail;
static size_t folder_len;
static long kill_at, count;
static int log_fd = -1;

struct entry {
    char kind; /* w write, s sync, t truncate, r rename, u unlink */
    char pad[7];
    double at_s;
    int64_t offset;
    int64_t length; /* of the data that follow the names */
    int32_t name_len, other_len;
};

__attribute__((constructor)) static void begin(void) {
    const char *text;
    folder = getenv("DISK_FOLDER");
    how = getenv("DISK_KILL_HOW");
    stall = getenv("DISK_STALL");
    fail = getenv("DISK_FAIL");
    folder_len = folder ? strlen(folder) : 0;
    if ((text = getenv("DISK_KILL_AT")))
        kill_at = atol(text);
    if ((text = getenv("DISK_LOG")) && *text)
        log_fd = open(text, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
}

/* For a process that forks: the child dies at its own operation number `at`. */
void disk_kill_at(long at) {
    kill_at = at;
    count = 0;
}

static int below(const char *path) {
    return folder_len && strncmp(path, folder, folder_len) == 0 && path[folder_len] == '/';
}

static int named(int fd, char *name) {
    char link[40];
    ssize_t n;
    int saved = errno;
    if (!folder_len)
        return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    n = readlink(link, name, 4095);
    errno = saved;
    if (n <= 0)
        return 0;
    name[n] = 0;
    return below(name) && !strstr(name, "-shm");
}

/* The number in a file, or 0 when it is not there. */
static double told(const char *path) {
    char text[32];
    ssize_t n;
    int fd, saved = errno;
    if (!path || (fd = (int)syscall(SYS_openat, (long)AT_FDCWD, path, (long)O_RDONLY, 0L)) < 0) {
        errno = saved;
        return 0;
    }
    n = read(fd, text, sizeof text - 1);
    close(fd);
    errno = saved;
    if (n <= 0)
        return 0;
    text[n] = 0;
    return atof(text);
}

/* Whether nothing can be written now; then errno says why. */
static int fails(void) {
    int why = (int)told(fail);
    if (why)
        errno = why;
    return why;
}

static void die(void) {
    syscall(SYS_kill, (long)syscall(SYS_getpid), SIGKILL);
    for (;;)
        pause();
}

/* Called under the lock, before the thing is done. Returns 1 when it is to be done by half. */
static int about(char kind, const char *name, const char *other, int64_t offset, const void *data,
                 int64_t length) {
    count++;
    if (log_fd >= 0) {
        struct timespec now;
        struct entry e;
        size_t total = sizeof e + strlen(name) + strlen(other) + (size_t)length;
        char *whole = malloc(total);
        memset(&e, 0, sizeof e);
        clock_gettime(CLOCK_MONOTONIC, &now);
        e.kind = kind;
        e.at_s = now.tv_sec + now.tv_nsec / 1e9;
        e.offset = offset;
        e.length = length;
        e.name_len = (int32_t)strlen(name);
        e.other_len = (int32_t)strlen(other);
        memcpy(whole, &e, sizeof e);
        memcpy(whole + sizeof e, name, e.name_len);
        memcpy(whole + sizeof e + e.name_len, other, e.other_len);
        if (length)
            memcpy(whole + sizeof e + e.name_len + e.other_len, data, length);
        syscall(SYS_write, (long)log_fd, whole, total);
        free(whole);
    }
    if (count != kill_at)
        return 0;
    if (how && strcmp(how, "torn") == 0 && kind == 'w')
        return 1;
    if (!how || strcmp(how, "after") != 0)
        die();
    return 0;
}

static void done(void) {
    if (count == kill_at)
        die();
    pthread_mutex_unlock(&lock);
}

#define REAL(type, name, args) \
    static type(*real) args; \
    if (!real) \
    real = (type(*) args)dlsym(RTLD_NEXT, #name)

#define WRITES(function, offset_type) \
    ssize_t function(int fd, const void *data, size_t length, offset_type offset) { \
        char name[4096]; \
        ssize_t n; \
        REAL(ssize_t, function, (int, const void *, size_t, offset_type)); \
        if (!named(fd, name)) \
            return real(fd, data, length, offset); \
        if (fails()) \
            return -1; \
        pthread_mutex_lock(&lock); \
        if (about('w', name, "", offset, data, (int64_t)length)) \
            length /= 2; \
        n = real(fd, data, length, offset); \
        done(); \
        return n; \
    }
WRITES(pwrite, off_t)
WRITES(pwrite64, off64_t)

ssize_t write(int fd, const void *data, size_t length) {
    char name[4096];
    struct stat about_it;
    ssize_t n;
    int64_t offset;
    REAL(ssize_t, write, (int, const void *, size_t));
    if (!named(fd, name) || fstat(fd, &about_it) || !S_ISREG(about_it.st_mode))
        return real(fd, data, length);
    if (fails())
        return -1;
    pthread_mutex_lock(&lock);
    offset = (fcntl(fd, F_GETFL) & O_APPEND) ? about_it.st_size : lseek(fd, 0, SEEK_CUR);
    if (about('w', name, "", offset, data, (int64_t)length))
        length /= 2;
    n = real(fd, data, length);
    done();
    return n;
}

static void stalls(void) {
    double seconds = told(stall);
    struct timespec pause_for;
    pause_for.tv_sec = (time_t)seconds;
    pause_for.tv_nsec = (long)((seconds - (double)pause_for.tv_sec) * 1e9);
    if (seconds > 0)
        nanosleep(&pause_for, NULL);
}

#define OPENS(function) \
    int function(const char *path, int flags, ...) { \
        va_list more; \
        mode_t mode; \
        REAL(int, function, (const char *, int, ...)); \
        va_start(more, flags); \
        mode = va_arg(more, mode_t); \
        va_end(more); \
        if (below(path) && (flags & (O_WRONLY | O_RDWR | O_CREAT)) && fails()) \
            return -1; \
        return real(path, flags, mode); \
    }
OPENS(open)
OPENS(open64)

#define SYNCS(function) \
    int function(int fd) { \
        char name[4096]; \
        int n; \
        REAL(int, function, (int)); \
        if (!named(fd, name)) \
            return real(fd); \
        stalls(); \
        if (fails()) \
            return -1; \
        pthread_mutex_lock(&lock); \
        about('s', name, "", 0, NULL, 0); \
        n = real(fd); \
        done(); \
        return n; \
    }
SYNCS(fsync)
SYNCS(fdatasync)

#define TRUNCATES(function, offset_type) \
    int function(int fd, offset_type length) { \
        char name[4096]; \
        int n; \
        REAL(int, function, (int, offset_type)); \
        if (!named(fd, name)) \
            return real(fd, length); \
        if (fails()) \
            return -1; \
        pthread_mutex_lock(&lock); \
        about('t', name, "", length, NULL, 0); \
        n = real(fd, length); \
        done(); \
        return n; \
    }
TRUNCATES(ftruncate, off_t)
TRUNCATES(ftruncate64, off64_t)

int rename(const char *from, const char *to) {
    int n;
    REAL(int, rename, (const char *, const char *));
    if (!below(from))
        return real(from, to);
    if (fails())
        return -1;
    pthread_mutex_lock(&lock);
    about('r', from, to, 0, NULL, 0);
    n = real(from, to);
    done();
    return n;
}

int unlink(const char *path) {
    int n;
    REAL(int, unlink, (const char *));
    if (!below(path) || strstr(path, "-shm"))
        return real(path);
    if (fails())
        return -1;
    pthread_mutex_lock(&lock);
    about('u', path, "", 0, NULL, 0);
    n = real(path);
    done();
    return n;
}
