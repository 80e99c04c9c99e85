/* Turns files into one C table of bytes: embed FILE... > assets.c. The names are the paths as given. JSON
 * comes without the blanks and line ends between its tokens, unless there are comments in it. */
#include <stdio.h>
#include <string.h>

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

/* Whether blanks between tokens mean nothing: it is JSON, and a comment does not end at one. */
static int is_plain_json(FILE *file, const char *path) {
    size_t size = strlen(path);
    struct place place = {0, 0};
    int plain = size > 5 && strcmp(path + size - 5, ".json") == 0;
    for (int c; plain && (c = getc(file)) != EOF; move_on(&place, c))
        plain = place.in_string || c != '/';
    rewind(file);
    return plain;
}

static int put_file(const char *path, int index) {
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        perror(path);
        return -1;
    }
    printf("static const unsigned char bytes_%d[] = {", index);
    long count = 0;
    struct place place = {0, 0};
    int plain = is_plain_json(file, path);
    for (int c; (c = getc(file)) != EOF; move_on(&place, c)) {
        if (!plain || place.in_string || strchr(" \t\r\n", c) == NULL)
            printf("%s%d,", count++ % 32 == 0 ? "\n" : "", c);
    }
    printf("0};\n"); /* a NUL behind the last byte, so that text can be used as a string */
    int bad = ferror(file);
    if (fclose(file) != 0 || bad) {
        perror(path);
        return -1;
    }
    return 0;
}

int main(int argc, char **argv) {
    printf("#include \"daemon/base/asset.h\"\n");
    for (int i = 1; i < argc; i++) {
        if (put_file(argv[i], i) != 0)
            return 1;
    }
    printf("const struct asset asset_table[] = {\n");
    for (int i = 1; i < argc; i++)
        printf("    {\"%s\", bytes_%d, sizeof bytes_%d - 1},\n", argv[i], i, i);
    printf("    {0, 0, 0}};\n");
    return fflush(stdout) == 0 ? 0 : 1;
}
