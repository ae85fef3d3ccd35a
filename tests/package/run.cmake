# Installs the build, builds the outside project against it and runs it.
#   cmake -D BUILD=... -D SOURCE=... -D WORK=... -D COMPILER=... -P run.cmake
function(must)
  execute_process(COMMAND ${ARGV} RESULT_VARIABLE result OUTPUT_VARIABLE output ERROR_VARIABLE output)
  if(NOT result EQUAL 0)
    list(JOIN ARGV " " command)
    message(FATAL_ERROR "failed (${result}): ${command}\n${output}")
  endif()
endfunction()

file(REMOVE_RECURSE ${WORK})
file(MAKE_DIRECTORY ${WORK}/lab)
must(${CMAKE_COMMAND} --install ${BUILD} --prefix ${WORK}/prefix)
# README's example is compiled as it stands there.
file(READ ${SOURCE}/README.md readme)
string(REGEX MATCH "```cpp\n([^`]*)```" found "${readme}")
file(WRITE ${WORK}/readme.cc "${CMAKE_MATCH_1}")
must(${CMAKE_COMMAND} -S ${SOURCE}/tests/package -B ${WORK}/build -G Ninja -D CMAKE_PREFIX_PATH=${WORK}/prefix
  -D CMAKE_CXX_COMPILER=${COMPILER} -D CMAKE_BUILD_TYPE=Release -D README=${WORK}/readme.cc "-DCMAKE_EXE_LINKER_FLAGS=${FLAGS}")
must(${CMAKE_COMMAND} --build ${WORK}/build)

# The rain barrel with one more chip, from outside, on the overflow lamp's line.
file(COPY ${SOURCE}/scenarios/rain_barrel/gauge.asm DESTINATION ${WORK}/lab)
file(READ ${SOURCE}/scenarios/rain_barrel/gauge.json machine)
string(REPLACE "\"chips\": {" "\"chips\": {\n    \"ALARM\": { \"type\": \"float_alarm\" }," machine "${machine}")
string(REPLACE "[\"FULL.K\"," "[\"ALARM.IN\", \"FULL.K\"," machine "${machine}")
file(WRITE ${WORK}/lab/gauge.json "${machine}")

execute_process(COMMAND ${WORK}/build/float_alarm ${WORK}/lab/gauge.json
  RESULT_VARIABLE result OUTPUT_VARIABLE output ERROR_VARIABLE errors)
set(expected "level  64\nALARM: alarm 1\nlevel 210\n")
if(NOT result EQUAL 0 OR NOT output STREQUAL expected)
  message(FATAL_ERROR "expected:\n${expected}\nfound (${result}):\n${output}${errors}")
endif()

execute_process(COMMAND ${WORK}/build/readme WORKING_DIRECTORY ${SOURCE}/scenarios/rain_barrel
  RESULT_VARIABLE result OUTPUT_VARIABLE output ERROR_VARIABLE errors)
if(NOT result EQUAL 0 OR NOT output STREQUAL "125\n")
  message(FATAL_ERROR "README's example: expected 125, found (${result}):\n${output}${errors}")
endif()
# A missing file is told, and no more.
execute_process(COMMAND ${WORK}/build/readme WORKING_DIRECTORY ${WORK}
  RESULT_VARIABLE result OUTPUT_VARIABLE output ERROR_VARIABLE errors)
if(NOT result EQUAL 3 OR NOT errors MATCHES "gauge.json")
  message(FATAL_ERROR "README's example without its file: found (${result}):\n${output}${errors}")
endif()

# Chips in a shared object: the example as it is installed, on a board that is installed.
file(GLOB_RECURSE example ${WORK}/prefix/share/doc/*/own-chips/CMakeLists.txt)
get_filename_component(example "${example}" DIRECTORY)
must(${CMAKE_COMMAND} -S ${example} -B ${WORK}/chips -G Ninja -D CMAKE_PREFIX_PATH=${WORK}/prefix
  -D CMAKE_CXX_COMPILER=${COMPILER} "-DCMAKE_MODULE_LINKER_FLAGS=${FLAGS}")
must(${CMAKE_COMMAND} --build ${WORK}/chips)
set(prewire ${WORK}/prefix/bin/prewire)
function(says pattern status)
  execute_process(COMMAND ${prewire} ${ARGN} WORKING_DIRECTORY ${example}
    RESULT_VARIABLE result OUTPUT_VARIABLE output ERROR_VARIABLE errors)
  if(NOT result EQUAL status OR NOT "${output}${errors}" MATCHES "${pattern}")
    list(JOIN ARGN " " arguments)
    message(FATAL_ERROR "prewire ${arguments}\nexpected ${status}: ${pattern}\nfound (${result}):\n${output}${errors}")
  endif()
endfunction()
set(library ${WORK}/chips/field_chips.so)
says("there is no chip type \"rain_sensor\"" 3 check rain.json)
says("no-reset-vector.*0 stop, 1 warn" 0 check rain.json --chips ${library})
says("A person can set it to tip" 0 list rain_sensor --chips ${library})
says("chip-rain_sensor" 0 schema --chips ${library})
says("did you mean .*rain_sensor" 2 list rain_sensr --chips ${library})
says("event.*RAIN: tip 1|RAIN set to tip" 0 run rain.json --chips ${library} --for 10us --set RAIN=tip)
says("RAIN" 0 handout rain.json --chips ${library} --only parts)
says("names no file" 3 list --chips nowhere.so)
says("cannot be loaded" 3 list --chips rain.json)
says("is no library of chips" 3 list --chips ${WORK}/build/odd_0.so)
says("made for another version.*interface 999" 3 list --chips ${WORK}/build/odd_1.so)
says("does not add its chips.*no rain today" 3 list --chips ${WORK}/build/odd_2.so)
says("adds no chips" 3 list --chips ${WORK}/build/odd_3.so)
says("there is one of that name already" 3 list --chips ${WORK}/build/odd_4.so)
says("a name is of small letters" 3 list --chips ${WORK}/build/odd_5.so)
says("there is one of that name already" 3 list --chips ${library} --chips ${library})
