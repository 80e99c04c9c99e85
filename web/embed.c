/* Turns files into one C table of bytes: embed FILE... > assets.c. The names are the paths as given. */
#include <stdio.h>
#include <string.h>

static int put_file(const char *path, int index)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        perror(path);
        return -1;
    }
    printf("static const unsigned char bytes_%d[] = {", index);
    long count = 0;
    for (int c; (c = getc(file)) != EOF; count++)
        printf("%s%d,", count % 32 == 0 ? "\n" : "", c);
    printf("0};\n"); /* a NUL behind the last byte, so that text can be used as a string */
    int bad = ferror(file);
    if (fclose(file) != 0 || bad) {
        perror(path);
        return -1;
    }
    return 0;
}

int main(int argc, char **argv)
{
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
