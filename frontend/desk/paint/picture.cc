#include "picture.h"

#include <png.h>

#include <filesystem>
#include <stdexcept>
#include <string_view>
#include <system_error>

#include "shared/new_file.h"

namespace prewire::front::desk {

Picture::Picture(Size size)
    : surface_(SDL_CreateRGBSurfaceWithFormat(0, size.w, size.h, 32, SDL_PIXELFORMAT_ARGB8888)),
      renderer_(surface_ ? SDL_CreateSoftwareRenderer(surface_.get()) : nullptr) {
  if (!renderer_) throw std::runtime_error(SDL_GetError());
}

void write_png(SDL_Surface* surface, const std::string& file) {
  const std::unique_ptr<SDL_Surface, SurfaceEnd> rgb(SDL_ConvertSurfaceFormat(surface, SDL_PIXELFORMAT_RGB24, 0));
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(rgb->w);
  image.height = static_cast<png_uint_32>(rgb->h);
  image.format = PNG_FORMAT_RGB;
  png_alloc_size_t size = 0;
  if (png_image_write_get_memory_size(image, size, 0, rgb->pixels, rgb->pitch, nullptr) == 0) {
    throw std::runtime_error(image.message);
  }
  std::string bytes(size, '\0');
  if (png_image_write_to_memory(&image, bytes.data(), &size, 0, rgb->pixels, rgb->pitch, nullptr) == 0) {
    throw std::runtime_error(image.message);
  }
  NewFile out(file, "\x89PNG",
              {"what has that name already is no picture", "a new file, or a PNG file to replace",
               "the picture cannot be written"});
  out.write(std::string_view(bytes).substr(0, size));
  out.close();
  out.take_name();
}

std::string free_name(const std::string& stem, const std::string& extension) {
  for (int number = 1;; ++number) {
    std::string name = stem + "-" + std::to_string(number) + extension;
    std::error_code none;
    if (!std::filesystem::exists(name, none)) return name;
  }
}

}  // namespace prewire::front::desk
