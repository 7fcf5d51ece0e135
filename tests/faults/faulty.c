/* Stands between a process and its disk (LD_PRELOAD): answers calls below a path with a fault, and logs what changes.

FAULTY_CONTROL names a file of `struct control`, shared with whoever runs the test. FAULTY_LOG names a file that every
change below FAULTY_BELOW is appended to, with its data, in the order in which it was made. disk.py knows both formats.
*/
#define _GNU_SOURCE
#include <dirent.h>
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <sched.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/uio.h>
#include <unistd.h>

enum call { OPEN = 1, READ = 2, WRITE = 4, SYNC = 8, RENAME = 16, UNLINK = 32, LINK = 64, MKDIR = 128, TRUNCATE = 256,
            STAT = 512, LIST = 1024 };
enum { SHORT = -1 };

struct control {
    _Atomic uint32_t armed, calls;
    _Atomic int32_t error;                /* SHORT: half of what was to be written is */
    _Atomic uint32_t from, many, every;   /* the first call that fails; how many do, 0 all; each, each second */
    _Atomic uint32_t seen, hit, lock;
    uint32_t unused[7];
    char below[960];                      /* the path that calls must begin with */
    _Atomic uint32_t tally[16][16];       /* how often which call came by which of these places, while `armed` is 2 */
    char places[16][640];
};

static struct control *control;
static int log_file = -1;
static const char *logged_below = NULL;
static __thread int inside; /* what the library itself does is let through */

#define REAL(name) ({ static __typeof__(&name) known; if (!known) known = (__typeof__(&name))real(#name); known; })
static void *real(const char *name) {
    void *found = dlsym(RTLD_NEXT, name);
    if (!found) { fprintf(stderr, "faulty: no %s here\n", name); abort(); }
    return found;
}

__attribute__((constructor)) static void begin(void) {
    const char *place = getenv("FAULTY_CONTROL");
    if (place) {
        int file = (int)syscall(SYS_openat, AT_FDCWD, place, O_RDWR | O_CLOEXEC, 0);
        void *at = file < 0 ? MAP_FAILED : mmap(NULL, sizeof(struct control), PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
        if (at == MAP_FAILED) { fprintf(stderr, "faulty: %s cannot be mapped\n", place); abort(); }
        close(file);
        control = at;
    }
    place = getenv("FAULTY_LOG");
    logged_below = getenv("FAULTY_BELOW");
    if (place && logged_below) {
        log_file = (int)syscall(SYS_openat, AT_FDCWD, place, O_WRONLY | O_APPEND | O_CLOEXEC, 0);
        if (log_file < 0 || !control) { fprintf(stderr, "faulty: %s cannot be written\n", place); abort(); }
    }
}

/* --- where a call goes ------------------------------------------------------------------------------------------- */

static int of_handle(int handle, char *path) {
    char link[64];
    snprintf(link, sizeof link, handle == AT_FDCWD ? "/proc/self/cwd" : "/proc/self/fd/%d", handle);
    long length = syscall(SYS_readlinkat, AT_FDCWD, link, path, PATH_MAX - 1);
    if (length < 0) return 0;
    path[length] = 0;
    return 1;
}

static int of_name(int folder, const char *name, char *path) {
    if (name == NULL || *name == '/') { snprintf(path, PATH_MAX, "%s", name ? name : ""); return name != NULL; }
    char above[PATH_MAX];
    if (!of_handle(folder, above)) return 0;
    if (*name == 0) snprintf(path, PATH_MAX, "%s", above);
    else if (snprintf(path, PATH_MAX, "%s/%s", above, name) >= PATH_MAX) return 0;
    return 1;
}

/* `with` is that path alone where it ends with a dollar. */
static int begins(const char *path, const char *with) {
    size_t length = strlen(with);
    if (length && with[length - 1] == '$') return strlen(path) == length - 1 && strncmp(path, with, length - 1) == 0;
    return strncmp(path, with, length) == 0;
}

/* Whether this call is one that fails now; errno is set. */
static int fails(enum call call, const char *path) {
    if (control && control->armed == 2)
        for (int place = 0; place < 16 && *control->places[place]; place++)
            if (begins(path, control->places[place])) control->tally[place][__builtin_ctz(call)]++;
    if (!control || control->armed != 1 || !(control->calls & call) || !begins(path, control->below)) return 0;
    uint32_t number = ++control->seen;
    if (number < control->from || (number - control->from) % control->every) return 0;
    if (control->many && (number - control->from) / control->every >= control->many) return 0;
    control->hit++;
    errno = control->error == SHORT ? EIO : control->error;
    return 1;
}
static int armed(enum call call) { return !inside && control && (control->armed == 2 || (control->armed && (control->calls & call))); }
static int fails_at(enum call call, int folder, const char *name) {
    char path[PATH_MAX];
    int before = errno;
    if (!armed(call)) return 0;
    if (of_name(folder, name, path) && fails(call, path)) return 1;
    errno = before;
    return 0;
}
static int fails_on(enum call call, int handle) {
    char path[PATH_MAX];
    int before = errno;
    if (!armed(call)) return 0;
    if (of_handle(handle, path) && fails(call, path)) return 1;
    errno = before;
    return 0;
}
/* A full or read-only disk opens what is there to be read. */
static int open_fails(int folder, const char *name, int flags) {
    if (!armed(OPEN)) return 0;
    int error = control->error, changes = (flags & (O_CREAT | O_TRUNC)) || (flags & O_ACCMODE) != O_RDONLY;
    if ((error == ENOSPC || error == EDQUOT) && !(flags & O_CREAT)) return 0;
    if (error == EROFS && !changes) return 0;
    return fails_at(OPEN, folder, name);
}

/* --- the log ----------------------------------------------------------------------------------------------------- */

struct entry { uint32_t mark, op, first, second; uint64_t inode, offset, length; };
enum op { CREATED = 1, WRITTEN, CUT, SYNCED, RENAMED, REMOVED, LINKED, MADE, UNMADE, NAMED };

static int logs(void) { return log_file >= 0 && !inside; }
static void hold(void) {
    uint32_t free_ = 0;
    while (!atomic_compare_exchange_weak(&control->lock, &free_, 1)) { free_ = 0; sched_yield(); }
    inside++;
}
static void let_go(void) { inside--; control->lock = 0; }
static void put(enum op op, uint64_t inode, uint64_t offset, uint64_t length, const char *first, const char *second,
                const struct iovec *data, int pieces) {
    int before = errno;
    struct entry entry = {0x59414c46, op, (uint32_t)strlen(first), (uint32_t)strlen(second), inode, offset, length};
    struct iovec all[3 + 64] = {{&entry, sizeof entry}, {(void *)first, entry.first}, {(void *)second, entry.second}};
    uint64_t left = length;
    int count = 3;
    for (int piece = 0; data && piece < pieces && piece < 64 && left; piece++) {
        all[count] = data[piece];
        if (all[count].iov_len > left) all[count].iov_len = left;
        left -= all[count++].iov_len;
    }
    if (REAL(writev)(log_file, all, count) < 0) { fprintf(stderr, "faulty: the log cannot be written\n"); abort(); }
    errno = before;
}
static uint64_t inode_of(int handle, mode_t *mode) {
    struct stat status;
    if (REAL(fstat)(handle, &status)) return 0;
    if (mode) *mode = status.st_mode;
    return status.st_ino;
}
static int below(const char *path) {
    size_t length = strlen(logged_below);
    return strncmp(path, logged_below, length) == 0 && (path[length] == 0 || path[length] == '/');
}
static void note_written(int handle, int64_t offset, ssize_t length, const struct iovec *data, int pieces) {
    char path[PATH_MAX];
    if (length <= 0 || !of_handle(handle, path) || !below(path)) return;
    if (offset < 0) offset = REAL(lseek)(handle, 0, SEEK_CUR) - length;
    put(WRITTEN, inode_of(handle, NULL), (uint64_t)offset, (uint64_t)length, path, "", data, pieces);
}

/* --- open -------------------------------------------------------------------------------------------------------- */

static int opened(int folder, const char *name, int flags, mode_t mode) {
    if (open_fails(folder, name, flags)) return -1;
    int changes = flags & (O_CREAT | O_TRUNC);
    char path[PATH_MAX];
    if (!changes || !logs() || !of_name(folder, name, path) || !below(path))
        return REAL(openat)(folder, name, flags, mode);
    hold();
    struct stat status;
    int there = REAL(fstatat)(folder, name, &status, 0) == 0;
    int handle = REAL(openat)(folder, name, flags, mode);
    if (handle >= 0) {
        uint64_t inode = inode_of(handle, NULL);
        if (!there) put(CREATED, inode, 0, 0, path, "", NULL, 0);
        else if (flags & O_TRUNC) put(CUT, inode, 0, 0, path, "", NULL, 0);
    }
    let_go();
    return handle;
}
#define MODE(flags) \
    mode_t mode = 0; \
    if ((flags) & (O_CREAT | __O_TMPFILE)) { va_list rest; va_start(rest, flags); mode = va_arg(rest, mode_t); va_end(rest); }
int open(const char *name, int flags, ...) { MODE(flags) return opened(AT_FDCWD, name, flags, mode); }
int open64(const char *name, int flags, ...) { MODE(flags) return opened(AT_FDCWD, name, flags, mode); }
int openat(int folder, const char *name, int flags, ...) { MODE(flags) return opened(folder, name, flags, mode); }
int openat64(int folder, const char *name, int flags, ...) { MODE(flags) return opened(folder, name, flags, mode); }
int creat(const char *name, mode_t mode) { return opened(AT_FDCWD, name, O_CREAT | O_WRONLY | O_TRUNC, mode); }
int creat64(const char *name, mode_t mode) { return opened(AT_FDCWD, name, O_CREAT | O_WRONLY | O_TRUNC, mode); }

/* --- read and write ---------------------------------------------------------------------------------------------- */

ssize_t read(int handle, void *data, size_t length) {
    return fails_on(READ, handle) ? -1 : REAL(read)(handle, data, length);
}
ssize_t pread(int handle, void *data, size_t length, off_t at) {
    return fails_on(READ, handle) ? -1 : REAL(pread)(handle, data, length, at);
}
ssize_t pread64(int handle, void *data, size_t length, off64_t at) {
    return fails_on(READ, handle) ? -1 : REAL(pread64)(handle, data, length, at);
}

/* The length that is written: all, half, or -1 for a fault. */
static ssize_t allowed(int handle, size_t length) {
    if (!fails_on(WRITE, handle)) return (ssize_t)length;
    return control->error == SHORT && length > 1 ? (ssize_t)(length / 2) : control->error == SHORT ? (ssize_t)length : -1;
}
ssize_t write(int handle, const void *data, size_t length) {
    ssize_t now = allowed(handle, length);
    if (now < 0) return -1;
    if (!logs() || handle == log_file) return REAL(write)(handle, data, (size_t)now);
    hold();
    now = REAL(write)(handle, data, (size_t)now);
    note_written(handle, -1, now, &(struct iovec){(void *)data, length}, 1);
    let_go();
    return now;
}
static ssize_t written_at(int handle, const void *data, size_t length, off64_t at) {
    ssize_t now = allowed(handle, length);
    if (now < 0) return -1;
    if (!logs()) return REAL(pwrite64)(handle, data, (size_t)now, at);
    hold();
    now = REAL(pwrite64)(handle, data, (size_t)now, at);
    note_written(handle, at, now, &(struct iovec){(void *)data, length}, 1);
    let_go();
    return now;
}
ssize_t pwrite(int handle, const void *data, size_t length, off_t at) { return written_at(handle, data, length, at); }
ssize_t pwrite64(int handle, const void *data, size_t length, off64_t at) { return written_at(handle, data, length, at); }
ssize_t writev(int handle, const struct iovec *data, int pieces) {
    if (fails_on(WRITE, handle) && control->error != SHORT) return -1;
    if (!logs()) return REAL(writev)(handle, data, pieces);
    hold();
    ssize_t now = REAL(writev)(handle, data, pieces);
    note_written(handle, -1, now, data, pieces);
    let_go();
    return now;
}
/* Copies within the kernel have no data to log: whoever uses them falls back to reading and writing. */
ssize_t sendfile(int to, int from, off_t *at, size_t length) {
    if (fails_on(WRITE, to)) return -1;
    char path[PATH_MAX];
    if (logs() && of_handle(to, path) && below(path)) { errno = EINVAL; return -1; }
    return syscall(SYS_sendfile, to, from, at, length);
}
ssize_t sendfile64(int to, int from, off64_t *at, size_t length) { return sendfile(to, from, (off_t *)at, length); }
ssize_t copy_file_range(int from, off64_t *from_at, int to, off64_t *to_at, size_t length, unsigned flags) {
    if (fails_on(WRITE, to)) return -1;
    char path[PATH_MAX];
    if (logs() && of_handle(to, path) && below(path)) { errno = EXDEV; return -1; }
    return syscall(SYS_copy_file_range, from, from_at, to, to_at, length, flags);
}
static int cut(int handle, off64_t length) {
    if (fails_on(TRUNCATE, handle)) return -1;
    if (!logs()) return REAL(ftruncate64)(handle, length);
    hold();
    char path[PATH_MAX];
    int done = REAL(ftruncate64)(handle, length);
    if (!done && of_handle(handle, path) && below(path))
        put(CUT, inode_of(handle, NULL), (uint64_t)length, 0, path, "", NULL, 0);
    let_go();
    return done;
}
int ftruncate(int handle, off_t length) { return cut(handle, length); }
int ftruncate64(int handle, off64_t length) { return cut(handle, length); }
int posix_fallocate(int handle, off_t at, off_t length) {
    return fails_on(WRITE, handle) ? errno : REAL(posix_fallocate)(handle, at, length);
}

/* --- sync -------------------------------------------------------------------------------------------------------- */

static int synced(int handle, int (*sync)(int)) {
    if (fails_on(SYNC, handle)) return -1;
    if (!logs()) return sync(handle);
    char path[PATH_MAX];
    if (!of_handle(handle, path) || !below(path)) return sync(handle);
    hold();
    mode_t mode = 0;
    uint64_t inode = inode_of(handle, &mode);
    int done = sync(handle);
    if (!done) put(SYNCED, inode, S_ISDIR(mode), 0, path, "", NULL, 0);
    let_go();
    return done;
}
int fsync(int handle) { return synced(handle, REAL(fsync)); }
int fdatasync(int handle) { return synced(handle, REAL(fdatasync)); }

/* --- names ------------------------------------------------------------------------------------------------------- */

static int renamed(int from, const char *old, int to, const char *new, unsigned flags) {
    if (fails_at(RENAME, from, old) || fails_at(RENAME, to, new)) return -1;
    if (!logs()) return (int)syscall(SYS_renameat2, from, old, to, new, flags);
    char first[PATH_MAX], second[PATH_MAX];
    hold();
    int done = (int)syscall(SYS_renameat2, from, old, to, new, flags);
    if (!done && of_name(from, old, first) && of_name(to, new, second) && (below(first) || below(second)))
        put(RENAMED, 0, 0, 0, first, second, NULL, 0);
    let_go();
    return done;
}
int rename(const char *old, const char *new) { return renamed(AT_FDCWD, old, AT_FDCWD, new, 0); }
int renameat(int from, const char *old, int to, const char *new) { return renamed(from, old, to, new, 0); }
int renameat2(int from, const char *old, int to, const char *new, unsigned flags) {
    return renamed(from, old, to, new, flags);
}

static int removed(int folder, const char *name, int flags) {
    if (fails_at(UNLINK, folder, name)) return -1;
    if (!logs()) return (int)syscall(SYS_unlinkat, folder, name, flags);
    char path[PATH_MAX];
    hold();
    int done = (int)syscall(SYS_unlinkat, folder, name, flags);
    if (!done && of_name(folder, name, path) && below(path))
        put(flags & AT_REMOVEDIR ? UNMADE : REMOVED, 0, 0, 0, path, "", NULL, 0);
    let_go();
    return done;
}
int unlink(const char *name) { return removed(AT_FDCWD, name, 0); }
int unlinkat(int folder, const char *name, int flags) { return removed(folder, name, flags); }
int rmdir(const char *name) { return removed(AT_FDCWD, name, AT_REMOVEDIR); }

static int linked(int from, const char *old, int to, const char *new, int flags) {
    if (fails_at(LINK, to, new)) return -1;
    if (!logs()) return (int)syscall(SYS_linkat, from, old, to, new, flags);
    char first[PATH_MAX], second[PATH_MAX];
    hold();
    int done = (int)syscall(SYS_linkat, from, old, to, new, flags);
    if (!done && of_name(from, old, first) && of_name(to, new, second) && below(second))
        put(LINKED, 0, 0, 0, first, second, NULL, 0);
    let_go();
    return done;
}
int link(const char *old, const char *new) { return linked(AT_FDCWD, old, AT_FDCWD, new, 0); }
int linkat(int from, const char *old, int to, const char *new, int flags) { return linked(from, old, to, new, flags); }

static int named(const char *what, int folder, const char *name) {
    if (fails_at(LINK, folder, name)) return -1;
    if (!logs()) return (int)syscall(SYS_symlinkat, what, folder, name);
    char path[PATH_MAX];
    hold();
    int done = (int)syscall(SYS_symlinkat, what, folder, name);
    if (!done && of_name(folder, name, path) && below(path)) put(NAMED, 0, 0, 0, path, what, NULL, 0);
    let_go();
    return done;
}
int symlink(const char *what, const char *name) { return named(what, AT_FDCWD, name); }
int symlinkat(const char *what, int folder, const char *name) { return named(what, folder, name); }

static int made(int folder, const char *name, mode_t mode) {
    if (fails_at(MKDIR, folder, name)) return -1;
    if (!logs()) return (int)syscall(SYS_mkdirat, folder, name, mode);
    char path[PATH_MAX];
    hold();
    int done = (int)syscall(SYS_mkdirat, folder, name, mode);
    if (!done && of_name(folder, name, path) && below(path)) put(MADE, 0, 0, 0, path, "", NULL, 0);
    let_go();
    return done;
}
int mkdir(const char *name, mode_t mode) { return made(AT_FDCWD, name, mode); }
int mkdirat(int folder, const char *name, mode_t mode) { return made(folder, name, mode); }

/* --- what is there ----------------------------------------------------------------------------------------------- */

#define LOOKS(name, status) \
    int name(const char *path, struct status *found) { \
        return fails_at(STAT, AT_FDCWD, path) ? -1 : REAL(name)(path, found); \
    }
LOOKS(stat, stat)
LOOKS(stat64, stat64)
LOOKS(lstat, stat)
LOOKS(lstat64, stat64)
int fstat(int handle, struct stat *found) { return fails_on(STAT, handle) ? -1 : REAL(fstat)(handle, found); }
int fstat64(int handle, struct stat64 *found) { return fails_on(STAT, handle) ? -1 : REAL(fstat64)(handle, found); }
int fstatat(int folder, const char *name, struct stat *found, int flags) {
    return fails_at(STAT, folder, name) ? -1 : REAL(fstatat)(folder, name, found, flags);
}
int fstatat64(int folder, const char *name, struct stat64 *found, int flags) {
    return fails_at(STAT, folder, name) ? -1 : REAL(fstatat64)(folder, name, found, flags);
}
int access(const char *name, int how) { return fails_at(STAT, AT_FDCWD, name) ? -1 : REAL(access)(name, how); }
int faccessat(int folder, const char *name, int how, int flags) {
    return fails_at(STAT, folder, name) ? -1 : REAL(faccessat)(folder, name, how, flags);
}
struct dirent *readdir(DIR *folder) { return fails_on(LIST, dirfd(folder)) ? NULL : REAL(readdir)(folder); }
struct dirent64 *readdir64(DIR *folder) { return fails_on(LIST, dirfd(folder)) ? NULL : REAL(readdir64)(folder); }
