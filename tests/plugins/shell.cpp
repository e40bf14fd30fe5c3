// A VST3 program that holds several plugins: those of the two libraries that lie in the bundle's Resources folder as
// 1.so and 2.so. It hands out their classes as if they were its own, and loads nothing before it is asked for them.
#include "travesty/factory.h"

#include <cstring>
#include <dlfcn.h>
#include <string>
#include <vector>

namespace {

std::vector<v3_plugin_factory_cpp**> inner;

v3_plugin_factory_cpp** factory_of(const std::string& library)
{
    void* const handle = dlopen(library.c_str(), RTLD_NOW | RTLD_LOCAL);
    if (handle == nullptr)
        return nullptr;
    reinterpret_cast<bool (*)(void*)>(dlsym(handle, "ModuleEntry"))(handle);
    const void* const made = reinterpret_cast<const void* (*)()>(dlsym(handle, "GetPluginFactory"))();
    return static_cast<v3_plugin_factory_cpp**>(const_cast<void*>(made));
}

void load_inner()
{
    Dl_info own;
    dladdr(reinterpret_cast<const void*>(&load_inner), &own);
    const std::string program = own.dli_fname;
    const std::string contents = program.substr(0, program.rfind('/', program.rfind('/') - 1));
    for (const char* const name : { "/Resources/1.so", "/Resources/2.so" })
        if (v3_plugin_factory_cpp** const factory = factory_of(contents + name))
            inner.push_back(factory);
}

// The factory that has the class number `index`, which is then counted from its own first.
v3_plugin_factory_cpp** owner_of(int32_t& index)
{
    for (v3_plugin_factory_cpp** const factory : inner) {
        const int32_t count = (*factory)->v1.num_classes(factory);
        if (index < count)
            return factory;
        index -= count;
    }
    return nullptr;
}

v3_result query(void* self, const v3_tuid iid, void** object)
{
    const bool known = !std::memcmp(iid, v3_funknown_iid, sizeof(v3_tuid))
        || !std::memcmp(iid, v3_plugin_factory_iid, sizeof(v3_tuid))
        || !std::memcmp(iid, v3_plugin_factory_2_iid, sizeof(v3_tuid));
    *object = known ? self : nullptr;
    return known ? V3_OK : V3_NO_INTERFACE;
}

uint32_t counted(void*) { return 1; }

v3_result factory_info(void*, v3_factory_info* info)
{
    return (*inner.front())->v1.get_factory_info(inner.front(), info);
}

int32_t class_count(void*)
{
    int32_t count = 0;
    for (v3_plugin_factory_cpp** const factory : inner)
        count += (*factory)->v1.num_classes(factory);
    return count;
}

v3_result class_info(void*, int32_t index, v3_class_info* info)
{
    v3_plugin_factory_cpp** const factory = owner_of(index);
    return factory ? (*factory)->v1.get_class_info(factory, index, info) : V3_INVALID_ARG;
}

v3_result class_info_2(void*, int32_t index, v3_class_info_2* info)
{
    v3_plugin_factory_cpp** const factory = owner_of(index);
    return factory ? (*factory)->v2.get_class_info_2(factory, index, info) : V3_INVALID_ARG;
}

v3_result create(void*, const v3_tuid class_id, const v3_tuid iid, void** instance)
{
    for (v3_plugin_factory_cpp** const factory : inner)
        if ((*factory)->v1.create_instance(factory, class_id, iid, instance) == V3_OK)
            return V3_OK;
    return V3_NO_INTERFACE;
}

struct Factory : v3_plugin_factory_cpp {
    Factory()
    {
        query_interface = query;
        ref = counted;
        unref = counted;
        v1 = { factory_info, class_count, class_info, create };
        v2 = { class_info_2 };
        v3 = {};
    }
};

}  // namespace

extern "C" {

__attribute__((visibility("default"))) const void* GetPluginFactory()
{
    static Factory factory;
    static Factory* handed_out = &factory;
    if (inner.empty())
        load_inner();
    return &handed_out;
}

__attribute__((visibility("default"))) bool ModuleEntry(void*) { return true; }
__attribute__((visibility("default"))) bool ModuleExit() { return true; }
}
