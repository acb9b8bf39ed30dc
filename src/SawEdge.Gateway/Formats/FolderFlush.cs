using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace SawEdge.Gateway.Formats;

/// <summary>Brings the names in a folder to the disk: a renamed file is safe from a loss of power once its folder is there too.</summary>
internal static class FolderFlush
{
    /// <summary>Waits until the names are on the disk. Where a system does not open folders, it cares for that itself.</summary>
    public static void Run(string folder)
    {
        if (!OperatingSystem.IsLinux())
            return;
        using var handle = new SafeFileHandle(open(folder, 0), ownsHandle: true);
        if (!handle.IsInvalid)
            RandomAccess.FlushToDisk(handle);
    }

    [DllImport("libc", SetLastError = true)]
    private static extern int open([MarshalAs(UnmanagedType.LPUTF8Str)] string path, int flags);
}
