/* Runs a program and lets one of its writing system calls fail, or kills it there.
 *
 *     trace --log FILE [--at N --do WHAT] [--same-random] -- PROGRAM ARGUMENT...
 *
 * Calls that change a file are counted from 1, over all threads of the program and
 * not over programs that it starts; each is a line of FILE: "N NAME FILE". WHAT is
 *
 *     kill    SIGKILL before call N
 *     torn    half of what call N writes is written, then SIGKILL
 *     ENOSPC  every call from N on that needs room fails so
 *     EIO     call N fails so
 *     EACCES  every call from N on that asks for leave fails so
 *
 * With --same-random the system's randomness is the same bytes each time, so that
 * two runs can be compared. Ends with the program's exit code, or 128 and its
 * signal. Linux on x86-64 only.
 */
#define _GNU_SOURCE
#include <elf.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ptrace.h>
#include <sys/syscall.h>
#include <sys/uio.h>
#include <sys/user.h>
#include <sys/wait.h>
#include <unistd.h>

enum { FROM_FD = 1, FROM_PATH = 2 };

/* What a call needs, and where its file stands among its arguments. */
struct call {
    long number;
    const char *name;
    int room, leave, writes;
    int kind, argument;
};

static const struct call CALLS[] = {
    { SYS_write, "write", 1, 0, 1, FROM_FD, 0 },
    { SYS_writev, "writev", 1, 0, 0, FROM_FD, 0 },
    { SYS_pwrite64, "pwrite64", 1, 0, 1, FROM_FD, 0 },
    { SYS_copy_file_range, "copy_file_range", 1, 0, 0, FROM_FD, 2 },
    { SYS_fsync, "fsync", 0, 0, 0, FROM_FD, 0 },
    { SYS_fdatasync, "fdatasync", 0, 0, 0, FROM_FD, 0 },
    { SYS_ftruncate, "ftruncate", 1, 0, 0, FROM_FD, 0 },
    { SYS_fallocate, "fallocate", 1, 0, 0, FROM_FD, 0 },
    { SYS_fchmod, "fchmod", 0, 1, 0, FROM_FD, 0 },
    { SYS_open, "open", 1, 1, 0, FROM_PATH, 0 },
    { SYS_openat, "openat", 1, 1, 0, FROM_PATH, 1 },
    { SYS_creat, "creat", 1, 1, 0, FROM_PATH, 0 },
    { SYS_rename, "rename", 1, 1, 0, FROM_PATH, 1 },
    { SYS_renameat, "renameat", 1, 1, 0, FROM_PATH, 3 },
    { SYS_renameat2, "renameat2", 1, 1, 0, FROM_PATH, 3 },
    { SYS_link, "link", 1, 1, 0, FROM_PATH, 1 },
    { SYS_linkat, "linkat", 1, 1, 0, FROM_PATH, 3 },
    { SYS_symlink, "symlink", 1, 1, 0, FROM_PATH, 1 },
    { SYS_unlink, "unlink", 0, 1, 0, FROM_PATH, 0 },
    { SYS_unlinkat, "unlinkat", 0, 1, 0, FROM_PATH, 1 },
    { SYS_rmdir, "rmdir", 0, 1, 0, FROM_PATH, 0 },
    { SYS_mkdir, "mkdir", 1, 1, 0, FROM_PATH, 0 },
    { SYS_mkdirat, "mkdirat", 1, 1, 0, FROM_PATH, 1 },
    { SYS_chmod, "chmod", 0, 1, 0, FROM_PATH, 0 },
};

/* Threads that are stopped inside a call, and what is done as it returns. */
enum todo { NOTHING, FAIL, KILL, FILL };
struct thread {
    pid_t pid;
    int inside;
    enum todo todo;
    long error;
};
static struct thread threads[256];

static FILE *calls_log;
static long count, at;
static const char *what = "";
static int same_random;

static void die(const char *why)
{
    fprintf(stderr, "trace: %s: %s\n", why, strerror(errno));
    exit(99);
}

static struct thread *thread_of(pid_t pid)
{
    for (size_t i = 0; i < sizeof threads / sizeof *threads; i++) {
        if (threads[i].pid == pid || threads[i].pid == 0) {
            threads[i].pid = pid;
            return &threads[i];
        }
    }
    die("too many threads");
    return NULL;
}

static unsigned long long argument(const struct user_regs_struct *regs, int index)
{
    const unsigned long long arguments[] = { regs->rdi, regs->rsi, regs->rdx, regs->r10 };
    return arguments[index];
}

/* The name of the file that a call is about. */
static void file_name(pid_t pid, const struct user_regs_struct *regs,
                      const struct call *call, char *name, size_t size)
{
    unsigned long long value = argument(regs, call->argument);
    name[0] = '\0';
    if (call->kind == FROM_FD) {
        char link[64];
        snprintf(link, sizeof link, "/proc/%d/fd/%llu", pid, value);
        ssize_t length = readlink(link, name, size - 1);
        name[length < 0 ? 0 : length] = '\0';
        return;
    }
    for (size_t i = 0; i + 1 < size; i++) {
        struct iovec local = { name + i, 1 }, remote = { (char *)value + i, 1 };
        if (process_vm_readv(pid, &local, 1, &remote, 1, 0) != 1 || name[i] == '\0') {
            name[i] = '\0';
            return;
        }
    }
    name[size - 1] = '\0';
}

static const struct call *call_of(const struct user_regs_struct *regs)
{
    long number = (long)regs->orig_rax;
    for (size_t i = 0; i < sizeof CALLS / sizeof *CALLS; i++) {
        if (CALLS[i].number != number)
            continue;
        unsigned long long flags = 0;
        if (number == SYS_open)
            flags = regs->rsi;
        if (number == SYS_openat)
            flags = regs->rdx;
        if ((number == SYS_open || number == SYS_openat)
            && !(flags & (O_CREAT | O_WRONLY | O_RDWR)))
            return NULL;
        return &CALLS[i];
    }
    return NULL;
}

/* Whether this call is one that fails, and with what. */
static long error_of(const struct call *call)
{
    if (strcmp(what, "EIO") == 0)
        return count == at ? EIO : 0;
    if (strcmp(what, "ENOSPC") == 0)
        return count >= at && call->room ? ENOSPC : 0;
    if (strcmp(what, "EACCES") == 0)
        return count >= at && call->leave ? EACCES : 0;
    return 0;
}

static void enters(pid_t group, struct thread *thread)
{
    struct user_regs_struct regs;
    if (ptrace(PTRACE_GETREGS, thread->pid, NULL, &regs) != 0)
        return;
    thread->todo = NOTHING;
    if (same_random && (long)regs.orig_rax == SYS_getrandom) {
        thread->todo = FILL;
        return;
    }
    const struct call *call = call_of(&regs);
    if (call == NULL)
        return;
    char name[4096];
    file_name(thread->pid, &regs, call, name, sizeof name);
    /* What is said to a person is no file. */
    if (strncmp(name, "pipe:", 5) == 0 || strncmp(name, "/dev/", 5) == 0
        || strncmp(name, "anon_inode", 10) == 0 || strncmp(name, "socket:", 7) == 0)
        return;
    count++;
    fprintf(calls_log, "%ld %s %s\n", count, call->name, name);
    if (count == at && strcmp(what, "kill") == 0) {
        fflush(calls_log);
        kill(group, SIGKILL);
        return;
    }
    if (count == at && strcmp(what, "torn") == 0) {
        if (!call->writes || regs.rdx < 2) {
            fflush(calls_log);
            kill(group, SIGKILL);
            return;
        }
        regs.rdx /= 2;
        thread->todo = KILL;
        ptrace(PTRACE_SETREGS, thread->pid, NULL, &regs);
        return;
    }
    long error = error_of(call);
    if (error != 0) {
        /* No call has this number, so none is made. */
        regs.orig_rax = (unsigned long long)-1;
        thread->todo = FAIL;
        thread->error = error;
        ptrace(PTRACE_SETREGS, thread->pid, NULL, &regs);
    }
}

static void leaves(pid_t group, struct thread *thread)
{
    struct user_regs_struct regs;
    if (thread->todo == NOTHING
        || ptrace(PTRACE_GETREGS, thread->pid, NULL, &regs) != 0)
        return;
    switch (thread->todo) {
    case FAIL:
        regs.rax = (unsigned long long)-thread->error;
        ptrace(PTRACE_SETREGS, thread->pid, NULL, &regs);
        break;
    case KILL:
        fflush(calls_log);
        kill(group, SIGKILL);
        break;
    case FILL: {
        static char same[65536];
        memset(same, 0x5A, sizeof same);
        long length = (long)regs.rax;
        if (length > 0 && length <= (long)sizeof same) {
            struct iovec local = { same, (size_t)length };
            struct iovec remote = { (void *)regs.rdi, (size_t)length };
            process_vm_writev(thread->pid, &local, 1, &remote, 1, 0);
        }
        break;
    }
    case NOTHING:
        break;
    }
    thread->todo = NOTHING;
}

static pid_t start(char **program)
{
    pid_t child = fork();
    if (child < 0)
        die("fork");
    if (child == 0) {
        ptrace(PTRACE_TRACEME, 0, NULL, NULL);
        raise(SIGSTOP);
        execvp(program[0], program);
        die(program[0]);
    }
    int status;
    if (waitpid(child, &status, 0) != child || !WIFSTOPPED(status))
        die("the program did not begin");
    long options = PTRACE_O_TRACESYSGOOD | PTRACE_O_TRACECLONE | PTRACE_O_EXITKILL;
    if (ptrace(PTRACE_SETOPTIONS, child, NULL, options) != 0)
        die("ptrace");
    ptrace(PTRACE_SYSCALL, child, NULL, 0);
    return child;
}

static int follow(pid_t group)
{
    for (;;) {
        int status;
        pid_t pid = waitpid(-1, &status, __WALL);
        if (pid < 0)
            die("the program was lost");
        if (WIFEXITED(status) || WIFSIGNALED(status)) {
            if (pid == group)
                return WIFEXITED(status) ? WEXITSTATUS(status)
                                         : 128 + WTERMSIG(status);
            continue;
        }
        int stop = WSTOPSIG(status), pass = 0;
        struct thread *thread = thread_of(pid);
        if (stop == (SIGTRAP | 0x80)) {
            thread->inside = !thread->inside;
            if (thread->inside)
                enters(group, thread);
            else
                leaves(group, thread);
        } else if (stop != SIGSTOP && stop != SIGTRAP) {
            pass = stop;
        }
        ptrace(PTRACE_SYSCALL, pid, NULL, pass);
    }
}

int main(int argc, char **argv)
{
    const char *file = NULL;
    int i = 1;
    for (; i < argc && strcmp(argv[i], "--") != 0; i++) {
        if (strcmp(argv[i], "--same-random") == 0)
            same_random = 1;
        else if (i + 1 < argc && strcmp(argv[i], "--log") == 0)
            file = argv[++i];
        else if (i + 1 < argc && strcmp(argv[i], "--at") == 0)
            at = atol(argv[++i]);
        else if (i + 1 < argc && strcmp(argv[i], "--do") == 0)
            what = argv[++i];
    }
    if (file == NULL || i + 1 >= argc) {
        fprintf(stderr, "see the head of trace.c\n");
        return 98;
    }
    calls_log = fopen(file, "w");
    if (calls_log == NULL)
        die(file);
    int code = follow(start(argv + i + 1));
    fclose(calls_log);
    return code;
}
