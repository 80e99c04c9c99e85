#include "daemon/store/backup_store.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/base/file.h"
#include "daemon/store/db_inside.h"
#include "daemon/store/health_store.h"

static enum status file_trouble(const char *path, const char *doing, struct problems *problems) {
    problem_add(problems, path, 0, 0, NULL, "cannot be %s: %s", doing, strerror(errno));
    return STATUS_IO;
}

/* What the system still has in memory goes to the disk: of a file, or of the names in a directory. */
static enum status sync_path(const char *path, struct problems *problems) {
    int descriptor = open(path, O_RDONLY | O_CLOEXEC);
    enum status status = STATUS_OK;
    if (descriptor < 0 || fsync(descriptor) != 0)
        status = file_trouble(path, "written to the disk", problems);
    if (descriptor >= 0)
        (void)close(descriptor);
    return status;
}

static enum status sync_directory_of(const char *path, struct problems *problems) {
    char *directory = file_directory(path);
    enum status status = directory != NULL ? sync_path(directory, problems) : STATUS_NO_MEMORY;
    free(directory);
    return status;
}

/* The pages of a database into an empty file that its owner alone can read. */
static enum status copy_pages(struct db *from, const char *path, struct problems *problems) {
    struct db to = {.path = (char *)(uintptr_t)path};
    int descriptor = open(path, O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, S_IRUSR | S_IWUSR);
    if (descriptor < 0)
        return file_trouble(path, "written", problems);
    (void)close(descriptor);
    enum status status = STATUS_OK;
    sqlite3_backup *backup = NULL;
    if (sqlite3_open_v2(path, &to.handle, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL) != SQLITE_OK ||
        (backup = sqlite3_backup_init(to.handle, "main", from->handle, "main")) == NULL) {
        status = db_trouble(&to, "starting a copy", problems);
    } else {
        /* At once: in WAL mode a reader, however long it reads, keeps no writer waiting. */
        (void)sqlite3_backup_step(backup, -1);
        if (sqlite3_backup_finish(backup) != SQLITE_OK)
            status = db_trouble(&to, "copying", problems);
    }
    /* A copy is one file: nothing beside it. */
    if (status == STATUS_OK)
        status = db_exec(&to, "PRAGMA journal_mode = DELETE", problems);
    sqlite3_close(to.handle);
    text_free(&to.trouble);
    return status;
}

/* A database that somebody has open would go on being written where no name leads to it any more, and its log
 * would be taken for that of the copy. */
static enum status check_target(const struct db *db, const char *path, struct problems *problems) {
    struct stat own, there;
    char *log = NULL;
    if (stat(path, &there) != 0)
        return STATUS_OK;
    bool same = stat(db->path, &own) == 0 && own.st_dev == there.st_dev && own.st_ino == there.st_ino;
    if (asprintf(&log, "%s-wal", path) < 0)
        return STATUS_NO_MEMORY;
    bool open = access(log, F_OK) == 0;
    free(log);
    if (!same && !open)
        return STATUS_OK;
    problem_add(problems, path, 0, 0, NULL,
                same ? "found the database itself, expected another file for its copy"
                     : "found a database that is in use, expected another file for the copy");
    return STATUS_REFUSED;
}

enum status backup_store_write(struct db *db, const char *path, struct problems *problems) {
    char *fresh = NULL;
    enum status status = check_target(db, path, problems);
    if (status != STATUS_OK)
        return status;
    if (asprintf(&fresh, "%s.new", path) < 0)
        return STATUS_NO_MEMORY;
    status = copy_pages(db, fresh, problems);
    if (status == STATUS_OK)
        status = sync_path(fresh, problems);
    if (status == STATUS_OK)
        status = backup_store_verify(fresh, problems);
    if (status == STATUS_OK && rename(fresh, path) != 0)
        status = file_trouble(path, "put into place", problems);
    if (status != STATUS_OK)
        (void)unlink(fresh);
    else
        status = sync_directory_of(path, problems);
    free(fresh);
    return status;
}

enum status backup_store_verify(const char *path, struct problems *problems) {
    struct db *db = NULL;
    enum status status = db_open(path, DB_CHECK, &db, problems);
    if (status == STATUS_OK)
        status = health_store_check(db, problems);
    db_close(db);
    return status;
}

/* What is there now, kept: as a copy where it can be read, else as the file that it is. */
static enum status set_aside(const char *to, const char *aside, struct problems *problems) {
    struct db *old = NULL;
    struct problems unheard;
    if (access(to, F_OK) != 0)
        return STATUS_OK;
    problems_init(&unheard);
    enum status status = db_open(to, DB_CHECK, &old, &unheard);
    if (status == STATUS_OK)
        status = copy_pages(old, aside, &unheard);
    db_close(old);
    problems_free(&unheard);
    if (status != STATUS_OK)
        status = rename(to, aside) == 0 ? STATUS_OK : file_trouble(to, "set aside", problems);
    return status == STATUS_OK ? sync_directory_of(to, problems) : status;
}

static enum status put_in_place(const char *fresh, const char *to, struct problems *problems) {
    static const char *const tails[] = {"-wal", "-shm", "-journal"};
    char *aside = NULL;
    if (asprintf(&aside, "%s.before-restore", to) < 0)
        return STATUS_NO_MEMORY;
    enum status status = set_aside(to, aside, problems);
    free(aside);
    /* Of the old file: over the new one they would be taken for its own. */
    for (size_t i = 0; status == STATUS_OK && i < sizeof tails / sizeof *tails; i++) {
        char *path = NULL;
        if (asprintf(&path, "%s%s", to, tails[i]) < 0)
            return STATUS_NO_MEMORY;
        if (unlink(path) != 0 && errno != ENOENT)
            status = file_trouble(path, "removed", problems);
        free(path);
    }
    if (status == STATUS_OK && rename(fresh, to) != 0)
        status = file_trouble(to, "put into place", problems);
    return status == STATUS_OK ? sync_directory_of(to, problems) : status;
}

enum status backup_store_restore(const char *from, const char *to, struct problems *problems) {
    struct db *db = NULL;
    char *fresh = NULL;
    if (access(from, F_OK) != 0) {
        problem_add(problems, from, 0, 0, NULL, "found no backup here (%s)", strerror(errno));
        return STATUS_NOT_FOUND;
    }
    enum status status = backup_store_verify(from, problems);
    if (status != STATUS_OK)
        return status;
    if (asprintf(&fresh, "%s.restoring", to) < 0)
        return STATUS_NO_MEMORY;
    status = db_open(from, DB_CHECK, &db, problems);
    if (status == STATUS_OK)
        status = copy_pages(db, fresh, problems);
    db_close(db);
    if (status == STATUS_OK)
        status = sync_path(fresh, problems);
    if (status == STATUS_OK)
        status = backup_store_verify(fresh, problems);
    if (status == STATUS_OK)
        status = put_in_place(fresh, to, problems);
    if (status != STATUS_OK)
        (void)unlink(fresh);
    free(fresh);
    return status;
}
