/* Who may come in: devices that hold a token, and the one-time links that make one. Only hashes are kept. */
#ifndef WATERTURN_ACCESS_STORE_H
#define WATERTURN_ACCESS_STORE_H

#include <stddef.h>
#include <stdint.h>

#include "daemon/farm/farm.h"
#include "daemon/store/db.h"

/* Each may do what those before it may. Kept in the database: the numbers stay. */
enum access_role {
    ACCESS_NOBODY,
    ACCESS_READER,   /* sees the calls, ledgers and plans */
    ACCESS_OPERATOR, /* records what was done */
    ACCESS_MANAGER   /* changes the farm book and who may come in */
};

/* "reader", "operator", "manager"; "nobody". */
const char *access_role_name(enum access_role role);
/* ACCESS_NOBODY when it is none. */
enum access_role access_role_named(const char *name);

#define ACCESS_HASH_SIZE 32

/* Whether a manager can come in, or was sent a link that may still be taken at `at`. */
enum status access_store_has_manager(struct db *db, int64_t at, bool *has, struct problems *problems);

struct access_device {
    long long id;
    char name[FARM_NAME_SIZE];
    enum access_role role;
    int64_t paired_at, seen_at, revoked_at; /* revoked_at 0: it may come in */
};

/* A one-time link for `name`, known by the hash of its code and taken until `until`. */
enum status access_store_invite(struct db *db, const char *name, enum access_role role,
                                const unsigned char code_hash[ACCESS_HASH_SIZE], int64_t at, int64_t until,
                                struct problems *problems);

/* Whom a link is for. STATUS_NOT_FOUND: there is no such link, it was used, or its time is over. */
enum status access_store_invited(struct db *db, const unsigned char code_hash[ACCESS_HASH_SIZE], int64_t at,
                                 struct access_device *out, struct problems *problems);

/* Uses a link up and makes the device that holds the token. STATUS_NOT_FOUND as above. A transaction. */
enum status access_store_pair(struct db *db, const unsigned char code_hash[ACCESS_HASH_SIZE],
                              const unsigned char token_hash[ACCESS_HASH_SIZE], int64_t at,
                              struct access_device *out, struct problems *problems);

/* A device without a link: a program that is given its token. */
enum status access_store_add(struct db *db, const char *name, enum access_role role,
                             const unsigned char token_hash[ACCESS_HASH_SIZE], int64_t at, long long *id,
                             struct problems *problems);

/* The device with a token, if it may come in. STATUS_NOT_FOUND. */
enum status access_store_find(struct db *db, const unsigned char token_hash[ACCESS_HASH_SIZE],
                              struct access_device *out, struct problems *problems);

enum status access_store_seen(struct db *db, long long id, int64_t at, struct problems *problems);

/* Closes the door to a device. STATUS_NOT_FOUND: there is none, or it is closed already. */
enum status access_store_revoke(struct db *db, long long id, int64_t at, struct problems *problems);

/* All of them, those that may come in before the others; a malloc'd array. */
enum status access_store_list(struct db *db, struct access_device **out, size_t *count,
                              struct problems *problems);

/* Whether anybody was ever invited or paired: from then on everybody has to show a token. */
enum status access_store_any(struct db *db, bool *any, struct problems *problems);

#endif
