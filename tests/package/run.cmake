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
