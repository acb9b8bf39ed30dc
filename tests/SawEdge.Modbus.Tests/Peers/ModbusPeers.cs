using System.Globalization;
using SawEdge.TestSupport;

namespace SawEdge.Modbus.Tests.Peers;

/// <summary>Modbus servers that are not ours, with the same typed values in each.</summary>
public static class ModbusPeers
{
    /// <summary>The interpreter that the distribution's packages belong to.</summary>
    public const string Python = "/usr/bin/python3";

    /// <summary>Where the distribution installs pymodbus.</summary>
    public const string Pymodbus = "/usr/lib/python3/dist-packages/pymodbus/__init__.py";

    /// <summary>The C compiler.</summary>
    public const string Compiler = "gcc";

    /// <summary>The header of libmodbus.</summary>
    public const string Libmodbus = "/usr/include/modbus/modbus.h";

    /// <summary>What joins pseudo terminals, and carries them over TCP.</summary>
    public const string Socat = "socat";

    /// <summary>Starts the pymodbus server.</summary>
    public static async Task<Peer> StartPymodbusAsync(int port, bool isRtu = false)
    {
        var peer = Peer.Start(Python, isRtu ? [Source("typed_values.py"), Text(port), "rtu"] : [Source("typed_values.py"), Text(port)]);
        await peer.ListensAsync(port);
        return peer;
    }

    /// <summary>Starts the pymodbus server on a serial line; there is no telling when it serves but by asking it.</summary>
    public static Peer StartPymodbus(string line) => Peer.Start(Python, [Source("typed_values.py"), line]);

    /// <summary>Compiles and starts the libmodbus server on a serial line.</summary>
    public static async Task<Peer> StartLibmodbusAsync(string line, TempFolder folder)
    {
        var peer = Peer.Start(await CompileAsync("typed_values.c", folder), [line]);
        await peer.PrintsAsync("serving");
        return peer;
    }

    /// <summary>Compiles and starts the libmodbus server.</summary>
    public static async Task<Peer> StartLibmodbusAsync(int port, TempFolder folder)
    {
        var peer = Peer.Start(await CompileAsync("typed_values.c", folder), [Text(port)]);
        await peer.ListensAsync(port);
        return peer;
    }

    /// <summary>Compiles a C program against libmodbus.</summary>
    /// <returns>Path of the program.</returns>
    public static async Task<string> CompileAsync(string source, TempFolder folder)
    {
        var program = folder.File(Path.GetFileNameWithoutExtension(source));
        var (exitCode, output) = await Peer.RunAsync(Compiler, ["-O2", "-Wall", "-Wextra", "-Werror", Source(source), "-o", program, "-lmodbus"]);
        Assert.True(exitCode == 0, output);
        return program;
    }

    private static string Source(string name) => Path.Combine(AppContext.BaseDirectory, "Peers", name);

    private static string Text(int number) => number.ToString(CultureInfo.InvariantCulture);
}
