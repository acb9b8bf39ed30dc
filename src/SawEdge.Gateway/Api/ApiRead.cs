using Microsoft.AspNetCore.Routing;

namespace SawEdge.Gateway.Api;

/// <summary>The endpoints by which saws, cycles, alarms, blades and jobs are looked at.</summary>
internal static class ApiRead
{
    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        var views = new SawViews(context);
        SawEndpoints.Map(api, context, views);
        LiveEndpoint.Map(api, context, new LiveHub(context, views));
        LoadTraces.Map(api, context);
        CycleEndpoints.Map(api, context);
        ExportEndpoints.Map(api, context);
        AlarmReadEndpoints.Map(api, context);
        BladeReadEndpoints.Map(api, context);
        JobEndpoints.Map(api, context);
    }
}
