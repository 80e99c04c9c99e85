/* Turns files into one C table of bytes: embed FILE... > assets.c. The names are the paths as given. JSON
 * comes without the blanks and line ends between its tokens, unless there are comments in it, and packed
 * where it is long: asset_find() unpacks it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#define FILE_MOST   (1 << 22)
#define PACKED_FROM 8192 /* bytes: what is shorter is not worth it */

/* Where in JSON a character stands; `escaped`: behind a backslash. */
struct place {
    int in_string, escaped;
};

static void move_on(struct place *place, int c) {
    if (place->escaped)
        place->escaped = 0;
    else if (place->in_string && c == '\\')
        place->escaped = 1;
    else if (c == '"')
        place->in_string = !place->in_string;
}

static int is_json(const char *path) {
    size_t size = strlen(path);
    return size > 5 && strcmp(path + size - 5, ".json") == 0;
}

/* Whether blanks between tokens mean nothing: a comment ends at one. */
static int has_comment(const unsigned char *bytes, size_t size) {
    struct place place = {0, 0};
    for (size_t i = 0; i < size; move_on(&place, bytes[i++])) {
        if (!place.in_string && bytes[i] == '/')
            return 1;
    }
    return 0;
}

static size_t without_blanks(unsigned char *bytes, size_t size) {
    struct place place = {0, 0};
    size_t count = 0;
    for (size_t i = 0; i < size; i++) {
        int kept = place.in_string || strchr(" \t\r\n", bytes[i]) == NULL;
        move_on(&place, bytes[i]);
        if (kept)
            bytes[count++] = bytes[i];
    }
    return count;
}

static void put_bytes(int index, const unsigned char *bytes, size_t size) {
    printf("static const unsigned char bytes_%d[] = {", index);
    for (size_t i = 0; i < size; i++)
        printf("%s%d,", i % 32 == 0 ? "\n" : "", bytes[i]);
    printf("0};\n"); /* a NUL behind the last byte, so that text can be used as a string */
}

/* Writes the bytes of a file; its entry goes into `entry`. */
static int put_file(const char *path, int index, char *entry, size_t room) {
    static unsigned char bytes[FILE_MOST], packed[FILE_MOST];
    uLongf packed_size = sizeof packed;
    FILE *file = fopen(path, "rb");
    size_t size = file != NULL ? fread(bytes, 1, sizeof bytes, file) : 0;
    if (file == NULL || size == sizeof bytes || ferror(file)) {
        perror(path);
        return -1;
    }
    (void)fclose(file);
    int json = is_json(path);
    if (json && !has_comment(bytes, size))
        size = without_blanks(bytes, size);
    if (json && size >= PACKED_FROM && compress2(packed, &packed_size, bytes, size, 9) == Z_OK) {
        put_bytes(index, packed, packed_size);
        (void)snprintf(entry, room, "{\"%s\", 0, %zu, bytes_%d, %lu}", path, size, index, packed_size);
    } else {
        put_bytes(index, bytes, size);
        (void)snprintf(entry, room, "{\"%s\", bytes_%d, %zu, 0, 0}", path, index, size);
    }
    return 0;
}

int main(int argc, char **argv) {
    static char entry[512][512];
    printf("#include \"daemon/base/asset.h\"\n");
    for (int i = 1; i < argc; i++) {
        if (i == 512 || put_file(argv[i], i, entry[i], sizeof entry[i]) != 0)
            return 1;
    }
    printf("struct asset asset_table[] = {\n");
    for (int i = 1; i < argc; i++)
        printf("    %s,\n", entry[i]);
    printf("    {0, 0, 0, 0, 0}};\n");
    return fflush(stdout) == 0 ? 0 : 1;
}
