# Turns a font file into a C++ source that holds its bytes. A string compiles many times faster than a list of numbers.
#   cmake -D NAME=label -D FILE=... -D OUTPUT=... -P embed.cmake
file(READ ${FILE} bytes HEX)
string(LENGTH "${bytes}" length)
math(EXPR length "${length} / 2")
string(REGEX REPLACE "(..)" "\\\\x\\1" bytes "${bytes}")
file(WRITE ${OUTPUT} "// Made from ${FILE}.
namespace prewire::front::desk::fonts {
extern const unsigned ${NAME}_size;
extern const char ${NAME}[];
const unsigned ${NAME}_size = ${length};
const char ${NAME}[] = \"${bytes}\";
}
")
