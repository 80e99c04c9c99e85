/* Runs the fixture server for a test. */
#ifndef WATERTURN_TEST_SERVED_H
#define WATERTURN_TEST_SERVED_H

#include <stddef.h>
#include <sys/types.h>

struct served {
    pid_t process;
    int input;        /* the server ends when this closes */
    char address[64]; /* "http://127.0.0.1:PORT" */
};

/* Starts the server over `directory`; 0, or -1 when it does not start. The server program is searched in the
 * build folder (environment BUILD, else "build"). */
int served_start(struct served *served, const char *directory);
void served_stop(struct served *served);

/* The server's address with a path behind it. Returns `room`. */
char *served_address(const struct served *served, const char *path, char *room, size_t size);

#endif
